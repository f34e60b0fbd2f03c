"""How `next_shift` does under a known truth: touching on target, intervals, chances, loss, the funnel.

Loss is the mean squared distance of the pieces to come from target, in units of the spread. Two oracles stand
beside it. One knows everything but the luck of this set-up: spread, wear, how far set-ups land (no rule can do
better with the same readings). The other knows the set-up itself; what it gains over the first no reading of n
pieces can give.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from scipy import stats

from tracker.decide import next_shift

PIECES = (5, 8, 12, 30)
SETUPS = (0.0, 0.5, 1.0, 2.0, 4.0)  # sd of set-up errors, in spreads
HALVES = (2.0, 3.0, 4.0)  # limits, in spreads from the target
KNOWLEDGE = {
    "nothing known": lambda setup: {},
    "spread known": lambda setup: {"sd": 1.0},
    "set-ups known": lambda setup: {"setup_sd": max(setup, 1e-9)},
}


def row(what, setting, happened, tries, said=0.0, low=None, high=None, note=""):
    """Return one row."""
    return {
        "what": what,
        "setting": setting,
        "said": said,
        "happened": float(happened),
        "tries": int(tries),
        "low": low,
        "high": high,
        "note": note,
    }


def rows(rng: np.random.Generator, size: int) -> Iterator[dict]:
    """Yield the rows; a tenth of ``size`` batches each, four tenths where one is quick."""
    few = max(size // 10, 60)
    for n in PIECES:
        yield from on_target_rows(rng, n, 4 * few)
    for n in PIECES:
        yield from interval_rows(rng, n, 4 * few)
    for n in PIECES:
        yield from chance_rows(rng, n, few)
    yield from loss_rows(rng, max(few // 4, 60))
    yield from wear_rows(rng, max(few // 4, 60))
    yield from touch_rows(rng, few)
    yield from funnel_rows(rng, max(few // 4, 60))


def on_target_rows(rng, n, tries):
    """Yield how often a process on target is touched."""
    touched = [not next_shift(rng.normal(size=n), 0.0).leave_alone for _ in range(tries)]
    yield row("next_shift touches a process on target", f"n = {n}", np.mean(touched), tries, 0.10, 0.08, 0.12)


def interval_rows(rng, n, tries):
    """Yield coverage of the interval of the wanted shift."""
    plain, prior, common = [], [], []
    for _ in range(tries):
        bias = rng.normal()
        sizes = bias + rng.normal(size=n)
        answer = next_shift(sizes, 0.0, wear=0.0).shift
        plain.append(answer.low <= -bias <= answer.high)
        answer = next_shift(sizes, 0.0, wear=0.0, setup_sd=1.0).shift
        prior.append(answer.low <= -bias <= answer.high)
        answer = next_shift(sizes + 0.4 * rng.normal(), 0.0, wear=0.0, common_uncertainty=0.4).shift
        common.append(answer.low <= -bias <= answer.high)
    for what, hits in (
        ("interval of the shift", plain),
        ("interval of the shift, set-ups known", prior),
        ("interval of the shift, gauge error in common", common),
    ):
        yield row(what, f"n = {n}", np.mean(hits), tries, 0.95, 0.94, 0.96)


def chance_rows(rng, n, tries):
    """Yield how honest the chance of the next piece is: the means of what was said and of what happened.

    Limits are laid at a distance told by the pieces themselves (then said and happened agree exactly in theory), and
    at a distance fixed beforehand, where the chance errs low with few pieces: it allows for more spread than they show.
    """
    for where in ("told by the pieces", "fixed beforehand"):
        for what, field in (("as it is", "within_before"), ("after the shift", "within_after")):
            said, happened = np.empty(tries), np.empty(tries)
            for k in range(tries):
                bias = 20.0 if where == "told by the pieces" else 1.5 * rng.normal()
                sizes = bias + rng.normal(size=n)
                half = rng.uniform(1.0, 3.5)
                aim = 0.0
                if where == "told by the pieces":
                    half *= np.std(sizes, ddof=1)
                    aim = float(np.mean(sizes)) if field == "within_before" else 0.0
                answer = next_shift(sizes, 0.0, aim - half, aim + half, wear=0.0)
                level = bias + (answer.change if field == "within_after" else 0.0) - aim
                said[k] = getattr(answer, field)
                happened[k] = stats.norm.cdf(half - level) - stats.norm.cdf(-half - level)
            bound = (0.0, 0.02) if where == "told by the pieces" else (None, None)
            note = (
                f"said {100 * np.mean(said):.1f} %, happened {100 * np.mean(happened):.1f} %; the row is the distance"
            )
            setting = f"n = {n}, limits {where}"
            gap = abs(np.mean(said) - np.mean(happened))
            yield row(f"chance of the next piece {what}", setting, gap, tries, 0.0, *bound, note)


def loss_rows(rng, tries):
    """Yield the loss above the oracle that knows all but the luck of this set-up, over set-ups and batch sizes."""
    everything, beside_truth, good_lost = [], [], []
    for knowledge, terms in KNOWLEDGE.items():
        ratios = []
        for n in PIECES:
            for setup in SETUPS:
                ours, oracle = np.empty(tries), np.empty(tries)
                for k in range(tries):
                    bias = setup * rng.normal()
                    sizes = bias + rng.normal(size=n)
                    ours[k] = (bias + next_shift(sizes, 0.0, **terms(setup)).change) ** 2
                    oracle[k] = (bias - setup**2 / (setup**2 + 1 / n) * np.mean(sizes)) ** 2
                ratios.append((1 + np.mean(ours)) / (1 + np.mean(oracle)) - 1)
                beside_truth.append(np.mean(ours))
                good_lost += [1 - np.mean(good(np.sqrt(ours), half)) / good(0.0, half) for half in HALVES]
        everything.append(np.mean(ratios))
        note = "mean over n = 5, 8, 12, 30 and set-ups with sd 0, 0.5, 1, 2, 4 spreads"
        yield row("loss above the best rule", knowledge, np.mean(ratios), tries * len(ratios), note=note)
    total = tries * len(PIECES) * len(SETUPS) * len(KNOWLEDGE)
    yield row("loss above the best rule", "all of these", np.mean(everything), total, 0.0, 0.0, 0.05)
    note = "the luck of n pieces is in it: 1/n at the least"
    yield row("loss above knowing the set-up itself", "all of these", np.mean(beside_truth), total, note=note)
    note = "limits 2, 3 and 4 spreads from the target on either side; the luck of n pieces is in it"
    what = "good pieces lost to knowing the set-up itself"
    yield row(what, "all of these", np.mean(good_lost), total, 0.0, 0.0, 0.05, note)


def good(level, half):
    """Return the share of pieces within limits ``half`` from the target, at a level off it, in spreads."""
    return stats.norm.cdf(half - level) - stats.norm.cdf(-half - level)


def wear_rows(rng, tries):
    """Yield the loss under wear, above the oracle that knows the slope and the spread; the next half run ahead."""
    for n, slope in ((12, 0.5), (24, 0.2), (24, 0.5)):
        ahead = n // 2
        coming = n + np.arange(1, ahead + 1) - 1.0
        ours, oracle, none = [], [], []
        for _ in range(tries):
            bias = 2 * rng.normal()
            sizes = bias + slope * np.arange(n) + rng.normal(size=n)
            level = bias + slope * coming
            ours.append(np.mean((level + next_shift(sizes, 0.0, pieces_ahead=ahead).change) ** 2))
            known = np.mean(sizes - slope * np.arange(n)) + slope * np.mean(coming)
            oracle.append(np.mean((level - known) ** 2))
            none.append(np.mean((level - np.mean(sizes)) ** 2))
        ratio = (1 + np.mean(ours)) / (1 + np.mean(oracle)) - 1
        note = f"without looking for wear it would be {100 * ((1 + np.mean(none)) / (1 + np.mean(oracle)) - 1):.0f} %"
        yield row("loss above knowing the wear", f"n = {n}, {slope} spreads a piece", ratio, tries, note=note)


def touch_rows(rng, tries):
    """Yield cost with limits and a price on touching: what of the avoidable cost our rule leaves."""
    half, touch, ahead, n = 3.0, 0.4, 24, 8
    ours, oracle, never = np.empty(tries), np.empty(tries), np.empty(tries)

    def cost(level, touched):
        out = stats.norm.cdf(-half - level) + stats.norm.sf(half - level)
        return ahead * out + touch * touched

    for k in range(tries):
        bias = 1.0 * rng.normal()
        sizes = bias + rng.normal(size=n)
        answer = next_shift(sizes, 0.0, -half, half, touch_cost=touch, pieces_ahead=ahead)
        ours[k] = cost(bias + answer.change, not answer.leave_alone)
        never[k] = cost(bias, False)
        oracle[k] = min(never[k], cost(0.0, True))
    left = (np.mean(ours) - np.mean(oracle)) / (np.mean(never) - np.mean(oracle))
    note = "of the cost that knowing the truth would save, the share that is not saved"
    yield row("cost left with a price on touching", "n = 8, limits 3 spreads away", left, tries, note=note)


def funnel_rows(rng, tries):
    """Yield the spread of a process on target that is looked at after every piece."""
    pieces = 20
    chased, harmonic, ours = [], [], []
    for _ in range(tries):
        errors = rng.normal(size=pieces)
        chased.append(np.mean((errors[1:] - errors[:-1]) ** 2))
        setting, sizes, events, squares = 0.0, [], [], []
        for k, error in enumerate(errors, 1):
            sizes.append(setting + error)
            if k > 1:
                squares.append(sizes[-1] ** 2)
                answer = next_shift(sizes, 0.0, events=events)
                if not answer.leave_alone:
                    events.append((k, "offset change", answer.change))
                    setting += answer.change
        ours.append(np.mean(squares))
        means = np.cumsum(errors)[:-1] / np.arange(1, pieces)
        harmonic.append(np.mean((errors[1:] - means) ** 2))
    total = tries * (pieces - 1)
    yield row("funnel: variance added by chasing every piece", "20 pieces on target", np.mean(chased) - 1, total, 1.0)
    yield row("funnel: variance added by the harmonic rule", "20 pieces on target", np.mean(harmonic) - 1, total)
    note = "looked at after every piece, with the offsets told as events"
    yield row(
        "funnel: variance added by next_shift", "20 pieces on target", np.mean(ours) - 1, total, 0.0, 0.0, 0.2, note
    )
