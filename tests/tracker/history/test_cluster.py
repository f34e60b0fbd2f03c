"""Many processes: the same numbers as one, also when one of them is killed in the middle."""

import os
import signal

import pytest

from tracker.history import HistoryError, summarize_history, work

distributed = pytest.importorskip("distributed")


@pytest.fixture(scope="module")
def client():
    with work.cluster(2, None) as made:
        yield made


@pytest.fixture
def history(make, rng, tmp_path, monkeypatch):
    monkeypatch.setattr(work, "ROWS_A_TASK", 40)
    return make.write(tmp_path / "h", make.readings(rng, batches=40, uneven=False), None, 35, 210)


def numbers(found):
    spread, flags = found.spread, found.flags
    return [spread.mean, spread.sd, spread.sd_high, found.capable.ppk, flags.slope, flags.slope_p, found.minimum]


def assert_same(one, other):
    assert one.batch.tolist() == other.batch.tolist()
    assert one.uses.tolist() == other.uses.tolist()
    assert one.flags.beyond.tolist() == other.flags.beyond.tolist()
    for mine, theirs in zip(numbers(one), numbers(other)):
        assert mine.tolist() == pytest.approx(theirs.tolist(), rel=1e-12, abs=1e-20)


@pytest.mark.parametrize("by", [None, "gauge"])
def test_two_workers_give_the_same_numbers(history, client, by):
    assert_same(summarize_history(history, by), summarize_history(history, by, client=client))


def test_an_address_is_enough(history, client):
    address = client.scheduler.address
    assert_same(summarize_history(history), summarize_history(history, address=address))


def test_damage_is_named_by_workers_too(history, client):
    path = history / "readings" / "part-000002.parquet"
    data = bytearray(path.read_bytes())
    data[200] ^= 1
    path.write_bytes(bytes(data))
    with pytest.raises(HistoryError, match=r"part-000002\.parquet, block 0"):
        summarize_history(history, client=client)
    assert_same(summarize_history(history, keep_going=True), summarize_history(history, keep_going=True, client=client))


def test_nobody_at_the_address_is_said(history, monkeypatch):
    monkeypatch.setattr(work, "CONNECT_WITHIN", "1s")
    with pytest.raises(HistoryError, match=r"nobody answers at tcp://127\.0\.0\.1:9"):
        summarize_history(history, address="tcp://127.0.0.1:9")


@pytest.mark.slow
def test_a_killed_worker_costs_time_and_no_number(history):
    alone = summarize_history(history)
    killed, seen = [], []
    with work.cluster(2, None) as client:
        before = set(client.run(os.getpid).values())

        def kill_one(done, whole):
            seen.append((done, whole))
            if not killed:
                killed.append(min(before))
                os.kill(killed[0], signal.SIGKILL)

        together = summarize_history(history, client=client, progress=kill_one)
        client.wait_for_workers(2, timeout=60)
        after = set(client.run(os.getpid).values())
    assert seen[0][0] < seen[0][1] / 4, "the worker was not killed in the middle"
    assert killed[0] not in after
    assert [done for done, _ in seen] == sorted({done for done, _ in seen}), "a task was counted twice"
    assert_same(alone, together)
