"""The record keeps what was acknowledged, once, as typed; the same on SQLite and on PostgreSQL."""

import threading

import pytest

from tracker.errors import JobError, LengthError, ReadingsError, RecordError
from tracker.job import parse_job
from tracker.record import open_record


@pytest.fixture
def job(record, job_text):
    return record.add_job(job_text, "bench 1").id


def test_a_job_comes_back_as_it_was_written(record, job, job_text):
    assert record.job(job).text == job_text
    assert record.job(job).features["bore"].upper == 0.6257
    info = record.jobs()[0]
    assert (info.name, info.unit, info.revision, info.by) == ("Leak-test nest, rest buttons", "in", 1, "bench 1")


def test_a_job_that_makes_no_sense_is_not_kept(record):
    with pytest.raises(JobError):
        record.add_job("[job]\nunit = 'furlong'\n")
    assert record.jobs() == []


def test_a_kept_job_opens_though_it_would_be_refused_now(record, job_text, monkeypatch):
    """Boring an outside was once a remark: a record that holds such a job is read, and its job can be put right."""
    old = job_text.replace('kind = "external"', 'kind = "external"\nmachine = { operation = "boring" }', 1)
    assert old != job_text
    with pytest.raises(JobError, match="boring makes an internal feature"):
        record.add_job(old)
    with monkeypatch.context() as then:
        then.setattr("tracker.record.keeping.parse_job", lambda text: parse_job(text, kept=True))
        number = record.add_job(old).id
    assert any("boring makes an internal feature" in remark for remark in record.job(number).remarks)
    record.revise_job(number, job_text)
    assert not any("boring" in remark for remark in record.job(number).remarks)


def test_a_job_sent_twice_is_kept_once(record, job_text):
    first = record.add_job(job_text, client_id="j1")
    again = record.add_job(job_text, client_id="j1")
    assert (first.id, first.made) == (again.id, True)
    assert not again.made
    assert len(record.jobs()) == 1


def test_a_reading_is_kept_as_typed_beside_its_value(record, job):
    kept = record.add_reading(job, "bore", "1", " 15.88 mm", client_id="a", operator="operator A")
    frame = record.readings(job).readings
    assert frame["typed"].tolist() == [" 15.88 mm"]
    assert frame["unit"].tolist() == ["mm"]
    assert kept.value == frame["value"].item() == pytest.approx(15.88 / 25.4, rel=1e-15)
    assert kept.unit == "in"


def test_sent_twice_is_kept_once_and_the_first_is_handed_back(record, job):
    first = record.add_reading(job, "bore", "1", ".62545", client_id="a")
    again = record.add_reading(job, "bore", "1", ".62545", client_id="a")
    assert (first.id, first.duplicate, again.id, again.duplicate) == (1, False, 1, True)
    assert (again.value, again.repeat, again.feature) == (0.62545, 1, "bore")
    assert len(record.readings(job).readings) == 1


@pytest.mark.parametrize(
    "other",
    [{"text": ".6253"}, {"piece": "2"}, {"feature": "shank"}, {"job_id": 2}],
    ids=lambda other: next(iter(other)),
)
def test_another_reading_under_the_same_id_is_refused_and_not_lost_in_silence(record, job, job_text, other):
    record.add_job(job_text, client_id="the second job")
    sent = {"job_id": job, "feature": "bore", "piece": "1", "text": ".6252", "client_id": "a"}
    kept = record.add_reading(**sent)
    with pytest.raises(ReadingsError, match="client_id 'a' stands for reading 1 already"):
        record.add_reading(**(sent | other))
    assert record.add_reading(**(sent | {"text": " .6252 "})).id == kept.id  # a repeat is still one


def test_repeats_count_on_by_piece_and_position(record, job):
    places = [("1", "top"), ("1", "top"), ("1", "bottom"), ("2", "top"), ("1", "top")]
    kept = [
        record.add_reading(job, "bore", piece, ".6254", position=position, client_id=str(i))
        for i, (piece, position) in enumerate(places)
    ]
    assert [item.repeat for item in kept] == [1, 2, 1, 1, 3]


@pytest.mark.parametrize("text", ["", "abc", "0.62.5", "=1+1", "-.6254", "1\x00"])
def test_what_is_no_reading_is_refused_and_not_kept(record, job, text):
    with pytest.raises(LengthError):
        record.add_reading(job, "bore", "1", text, client_id="a")
    assert record.readings(job).readings.empty
    assert record.verify().holds


def test_unknown_feature_job_piece_and_missing_client_id_are_refused(record, job):
    with pytest.raises(ReadingsError, match="there are: bore, shank"):
        record.add_reading(job, "bor", "1", ".6254", client_id="a")
    with pytest.raises(ReadingsError, match="no piece"):
        record.add_reading(job, "bore", " ", ".6254", client_id="a")
    with pytest.raises(RecordError, match="no job 99"):
        record.add_reading(99, "bore", "1", ".6254", client_id="a")
    with pytest.raises(RecordError, match="client_id"):
        record.add_reading(job, "bore", "1", ".6254", client_id="")


def test_comparator_and_go_no_go_are_readings_too(record, job):
    on_master = record.add_reading(job, "shank", "1", "+3 tenths", client_id="a")
    goes = record.add_reading(job, "bore", "1", "goes .6250 / not .6252", client_id="b")
    assert (on_master.kind, on_master.value) == ("comparator", 0.6258)
    assert (goes.kind, goes.value, goes.low, goes.high) == ("go_no_go", None, 0.625, 0.6252)
    frame = record.readings(job, "bore").readings
    assert frame["value"].isna().all()
    assert frame[["low", "high"]].values.tolist() == [[0.625, 0.6252]]


def test_a_strike_out_stays_readable_and_counts_no_more(record, job):
    kept = record.add_reading(job, "bore", "1", ".6264", client_id="a")
    struck = record.strike(kept.id, "gauge slipped", "bench 2")
    assert (struck.struck, struck.struck_reason, struck.struck_by, struck.counts) == (
        True,
        "gauge slipped",
        "bench 2",
        False,
    )
    assert record.readings(job).readings.empty
    with_struck = record.readings(job, struck=True).readings
    assert with_struck[["typed", "struck"]].values.tolist() == [[".6264", "gauge slipped"]]
    state = record.log_state(job, "bore")
    assert (state.readings, state.struck, state.pieces) == (0, 1, ())
    assert state.entries[0].struck_reason == "gauge slipped"
    assert record.add_reading(job, "bore", "1", ".6254", client_id="b").repeat == 1


def test_struck_twice_keeps_the_first_reason_and_needs_one(record, job):
    kept = record.add_reading(job, "bore", "1", ".6264", client_id="a")
    with pytest.raises(ReadingsError, match="needs a reason"):
        record.strike(kept.id, "  ")
    record.strike(kept.id, "gauge slipped", "bench 2")
    assert record.strike(kept.id, "another", "bench 3").struck_reason == "gauge slipped"
    with pytest.raises(RecordError, match="no reading 99"):
        record.strike(99, "gone")


def test_revisions_are_kept_and_batches_keep_theirs(record, job, job_text):
    record.add_reading(job, "bore", "1", ".6254", client_id="a")
    revised = record.revise_job(job, job_text.replace("upper = 0.6257", "upper = 0.6260"), "the lead")
    assert (revised.revision, revised.made) == (2, True)
    assert record.job(job).features["bore"].upper == 0.6260
    record.add_reading(job, "shank", "1", ".6254", client_id="b")
    assert [(batch.feature, batch.revision) for batch in record.batches(job)] == [("bore", 1), ("shank", 2)]
    assert not record.revise_job(job, record.job_text(job)).made
    assert record.job(job, revision=1).features["bore"].upper == 0.6257
    with pytest.raises(RecordError, match="accepted are 1 to 2"):
        record.job(job, revision=3)


def test_a_revision_may_not_lose_a_measured_feature_or_change_the_unit(record, job, job_text):
    record.add_reading(job, "bore", "1", ".6254", client_id="a")
    with pytest.raises(JobError, match="keeps its unit"):
        record.revise_job(job, job_text.replace('unit = "in"', 'unit = "mm"'))
    with pytest.raises(JobError, match="keep the feature"):
        record.revise_job(job, '[job]\nname="x"\nunit="in"\n[features.other]\nkind="length"\nnominal=1\n')
    assert record.jobs()[0].revision == 1


def test_events_come_back_in_order_and_once(record, job):
    record.add_event(job, "bore", "4", "tool change", client_id="e1", by="bench 1")
    record.add_event(job, "bore", "8", "offset_change", -0.0002)
    record.add_event(job, "bore", "4", "tool change", client_id="e1", by="bench 1")
    found = record.events(job)
    assert [(e.feature, e.after_piece, e.event, e.amount) for e in found] == [
        ("bore", "4", "tool_change", None),
        ("bore", "8", "offset_change", -0.0002),
    ]
    with pytest.raises(ReadingsError, match="accepted are"):
        record.add_event(job, "bore", "4", "lunch")


def test_pieces_come_in_their_natural_order(record, job):
    for i, piece in enumerate(["10", "2", "1", "2"]):
        record.add_reading(job, "bore", piece, ".6254", client_id=str(i))
    assert record.readings(job).readings["piece"].tolist() == ["1", "2", "2", "10"]
    assert [piece.piece for piece in record.log_state(job, "bore").pieces] == ["1", "2", "10"]


def test_a_second_viewer_follows_by_number(record, job):
    for i in range(5):
        record.add_reading(job, "bore", str(i), ".6254", client_id=str(i))
    assert [entry.piece for entry in record.since(job, 3)] == ["3", "4"]
    assert record.since(job, record.log_state(job, "bore").last_id) == []


def test_baselines_and_gauges_hold_the_last_entry(record, job):
    assert record.baseline(job, "bore", "individuals") is None
    record.freeze_baseline(job, "bore", "individuals", centre=0.6254, sd=0.0001, pieces=12)
    record.freeze_baseline(job, "bore", "individuals", centre=0.6255, sd=0.0001, pieces=24)
    assert record.baseline(job, "bore", "individuals").centre == 0.6255
    import datetime

    record.add_gauge("bore gauge", resolution=0.0001, due=datetime.date(2026, 9, 30))
    record.add_gauge("bore gauge", resolution=0.00005, due=datetime.date(2027, 9, 30))
    assert [(g.name, g.resolution, g.due) for g in record.gauges()] == [
        ("bore gauge", 0.00005, datetime.date(2027, 9, 30))
    ]


def test_opened_again_everything_is_there(url, job_text):
    with open_record(url) as first:
        job = first.add_job(job_text).id
        first.add_reading(job, "bore", "1", ".6254", client_id="a")
    with open_record(url, create=False) as second:
        assert second.find_job("leak-test nest, rest buttons") == job
        assert second.readings(job).readings["value"].tolist() == [0.6254]
        assert second.verify().holds


def test_threads_share_one_record(record, job):
    faults = []

    def log(bench):
        try:
            for i in range(8):
                record.add_reading(job, "bore", str(i), ".6254", client_id=f"{bench}-{i}")
        except Exception as error:  # noqa: BLE001 - any fault of a thread is a fault of the test
            faults.append(error)

    threads = [threading.Thread(target=log, args=(bench,)) for bench in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    frame = record.readings(job).readings
    assert len(frame) == 64
    assert sorted(frame[frame["piece"] == "3"]["repeat"]) == list(range(1, 9))
    assert record.verify().holds


def test_counts_are_those_of_the_readings_after_any_order_of_acts(url, record, job):
    """Counted anew from every reading's fate, after each act of a seeded run; a second program acts in between."""
    import random

    rng = random.Random(14)
    address = record.url.render_as_string(hide_password=False)
    with open_record(address) as other:
        for number in range(60):
            who = rng.choice((record, other))
            act = rng.random()
            there = who.since(job, 0)
            if act < 0.6 or not there:
                text = rng.choice([".62541", ".62545", ".6524"])
                feature, batch = rng.choice(["bore", "shank"]), rng.choice(["", "B"])
                who.add_reading(job, feature, str(rng.randint(1, 4)), text, batch=batch, client_id=str(number))
            elif act < 0.85:
                who.strike(rng.choice(there).id, "slipped")
            else:
                waiting = [entry for entry in there if entry.waiting]
                if waiting:
                    who.confirm(rng.choice(waiting).id)
            if number % 4:
                continue
            fates = record.since(job, 0)
            info = record.jobs()[0]
            counting = [entry for entry in fates if entry.counts]
            assert info.readings == len(counting) == len(record.readings(job).readings)
            assert info.waiting == sum(entry.waiting for entry in fates) == len(record.readings(job).suspects)
            assert info.struck == sum(entry.struck for entry in fates)
            assert info.pieces == len({(entry.feature, entry.batch, entry.piece) for entry in counting})
            for feature in ("bore", "shank"):
                state = record.log_state(job, feature, 5)
                own = [entry for entry in fates if entry.feature == feature]
                assert [entry.id for entry in state.entries] == [entry.id for entry in own][::-1][:5]
                assert state.readings == sum(entry.counts for entry in own)
                sized = sum(len(piece.values) for piece in state.pieces)
                assert sized == state.readings
                assert state.piece_count == sum(bool(piece.values) for piece in state.pieces)


@pytest.mark.parametrize("note", ["a\x00b", "a\x1fb", "a\ud800b"])
def test_texts_the_record_cannot_keep_exactly_are_refused(record, job, note):
    with pytest.raises(RecordError, match="a text holds"):
        record.add_reading(job, "bore", "1", ".6254", client_id="a", note=note)
    with pytest.raises(RecordError, match="a text holds"):
        record.add_event(job, "bore", "1", "setup", note=note)
    assert record.since(job, 0) == []
    kept = record.add_reading(job, "bore", "1", ".6254", client_id="b", note="Ölstand \u2028 µm \U0001f529")
    assert record.since(job, 0)[0].note == "Ölstand \u2028 µm \U0001f529"
    assert kept.id == 1
    assert record.verify().holds


def test_minus_nothing_and_what_is_no_number(record, job):
    record.add_reading(job, "bore", "1", ".6254", client_id="a", temperature=-0.0)
    record.add_event(job, "bore", "1", "offset_change", -0.0)
    assert record.verify().holds
    with pytest.raises(ReadingsError, match="finite"):
        record.add_reading(job, "bore", "1", ".6254", client_id="b", temperature=float("nan"))
    with pytest.raises(ReadingsError, match="from 1"):
        record.add_reading(job, "bore", "1", ".6254", client_id="c", repeat=0)
    assert len(record.since(job, 0)) == 1
