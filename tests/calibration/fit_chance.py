"""Honesty of every chance of a fit: what was said against what happened, by tenths of what was said.

Small batches from normal processes with known means and spreads; limits of all widths, from a fifth of the spread of a
gap to ten times it; the mean gap anywhere, from far too tight to far too loose, so that no chance is favoured
beforehand. (Limits that are never narrower than the spread tell something of the spread that no batch tells, and so do
means that keep within them: the rows "poor fits rare" show how far that moves what happens.) The batches are sorted by
the chance said for them and cut into ten parts (fewer when there are not 60 batches for each); a row shows the part
where said and happened differ most. Where the true chance of a batch is known exactly it is taken in place of one
throw, and ``tries`` is the number of throws that would tell as much.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from scipy import special

from tracker.fit import best_target, pair
from tracker.fit.batch_spread import gap_spread, side_spread
from tracker.fit.chances import predictive
from tracker.fit.measured_pairs import chance_of_pair, whole_order

PIECES = (6, 8, 12, 30)
GAUGES = {"no gauge error": (0.0, 0.0), "gauge a third of the spread": (1 / 3, 0.0), "and calibration": (1 / 3, 0.3)}
GAP = 0.02  # the bound: two points


def worst_tenth(what, setting, said, happened, bound=GAP, note=""):
    """Return the row of the tenth of batches where said and happened lie furthest apart."""
    order = np.argsort(said, kind="stable")
    count = max(1, min(10, len(said) // 60))
    parts = [
        (said[part].mean(), happened[part].mean(), happened[part].var() / len(part))
        for part in np.array_split(order, count)
    ]
    at, was, variance = max(parts, key=lambda part: abs(part[0] - part[1]))
    tries = len(said) // count
    if variance > 0:
        tries = max(tries, int(was * (1 - was) / variance))
    return {
        "what": f"{what}, worst of {count} parts",
        "setting": setting,
        "said": float(at),
        "happened": float(was),
        "tries": tries,
        "low": None if bound is None else float(at) - bound,
        "high": None if bound is None else float(at) + bound,
        "note": note,
    }


def world(rng, favoured=False):
    """Return (spreads of both sides, lower limit, upper limit) about a true mean gap of zero."""
    spreads = np.exp(rng.uniform(-0.8, 0.8, 2))
    total = float(np.hypot(*spreads))
    narrowest, widest = (0.7, 5.0) if favoured else (0.2, 10.0)
    half = total * float(np.exp(rng.uniform(np.log(narrowest), np.log(widest))))
    offset = rng.uniform(-1, 1) * (0.6 * half if favoured else half + 4 * total)
    return spreads, total, -half - offset, half - offset


def measured(rng, n, spreads, gauge):
    """Return true and measured sizes of both sides."""
    true = [spread * rng.standard_normal(n) for spread in spreads]
    seen = [sizes + gauge * spread * rng.standard_normal(n) for sizes, spread in zip(true, spreads, strict=True)]
    return true, seen


def predictive_rows(rng, n, name, size, favoured=False) -> Iterator[dict]:
    """Yield the chance of a pair, and of n pairs, of pieces not made yet."""
    gauge, calibration = GAUGES[name]
    said, happened = np.empty((2, size)), np.empty((2, size))
    for k in range(size):
        spreads, total, low, high = world(rng, favoured)
        _, seen = measured(rng, n, spreads, gauge)
        common = calibration * total
        seen[0] = seen[0] + common * rng.standard_normal()  # the calibration puts all gaps off alike
        sides = (side_spread(x, np.full(n, gauge * s)) for x, s in zip(seen, spreads, strict=True))
        good, _, every = predictive(gap_spread(*sides, common), low, high, n)
        true = special.ndtr(high / total) - special.ndtr(low / total)
        said[:, k], happened[:, k] = (good, every), (true, true**n)
    setting = f"n = {n} a side, {name}"
    if favoured:
        setting += ", poor fits rare"
    bound = None if favoured else GAP
    note = "nothing was told of how rare poor fits are: low chances come out too low" if favoured else ""
    yield worst_tenth("chance that a pair goes together", setting, said[0], happened[0], bound, note)
    yield worst_tenth(f"chance that all {n} pairs do", setting, said[1], happened[1], bound)


def measured_rows(rng, n, size) -> Iterator[dict]:
    """Yield the chances of the measured pieces themselves, measured with a gauge that costs something."""
    said, happened = np.empty((2, size)), np.empty((2, size))
    gauge = 1 / 3
    for k in range(size):
        spreads, total, low, high = world(rng)
        true, seen = measured(rng, n, spreads, gauge)
        common = 0.2 * total
        shift = common * rng.standard_normal()
        order = [np.argsort(x) for x in seen]
        seen = [x[o] for x, o in zip(seen, order, strict=True)]
        true = [x[o] for x, o in zip(true, order, strict=True)]
        noise = tuple(np.full(n, gauge * s) for s in spreads)
        seen[0] = seen[0] + shift  # the calibration puts all gaps off alike
        said[0, k] = chance_of_pair(*seen, low, high, noise, common)
        said[1, k] = whole_order(*seen, low, high, noise, common, rng).chance
        gap = true[0][:, None] - true[1]
        happened[0, k] = np.mean((gap >= low) & (gap <= high))
        gap = true[0] - rng.permuted(np.broadcast_to(true[1], (50, n)), axis=1)
        happened[1, k] = np.mean(np.all((gap >= low) & (gap <= high), axis=1))
    setting = f"n = {n} a side, gauge a third of the spread, and calibration"
    yield worst_tenth("chance that two measured pieces go together", setting, said[0], happened[0])
    yield worst_tenth("chance that a random order of the measured pieces does", setting, said[1], happened[1])


def pairing_rows(rng, n, size) -> Iterator[dict]:
    """Yield the chance that all pairs of the best pairing hold."""
    said, happened = [], []
    gauge = 1 / 3
    while len(said) < size:
        spreads, total, low, high = world(rng)
        true, seen = measured(rng, n, spreads, gauge)
        common = 0.2 * total
        shift = common * rng.standard_normal()
        seen[0] = seen[0] + shift
        found = pair(*seen, low, high, uncertainty=(gauge * spreads[0], gauge * spreads[1]), common_uncertainty=common)
        if not found.good:
            continue
        gap = true[0][found.internal] - true[1][found.external]
        said.append(found.chance_all)
        happened.append(np.all((gap >= low) & (gap <= high)))
    setting = f"n = {n} a side, gauge a third of the spread, and calibration"
    yield worst_tenth(
        "chance that all pairs of the pairing hold", setting, np.array(said), np.array(happened, dtype=float)
    )


def target_rows(rng, n, size) -> Iterator[dict]:
    """Yield the share of good assemblies said for the best target, the spread of the new part found from n pieces."""
    said, happened = np.empty(size), np.empty(size)
    for k in range(size):
        mates = float(np.exp(rng.uniform(-2, 2))) * rng.normal(0.0, 1.0, n)
        sd, half = np.exp(rng.uniform(-3, 3, 2)).tolist()  # nothing about the new part's spread is likelier
        estimate = sd * np.sqrt(rng.chisquare(n - 1) / (n - 1))
        found = best_target(mates, estimate, -half, half, sd_pieces=n)
        gap = mates - found.target
        said[k] = found.share_good
        happened[k] = np.mean(special.ndtr((half - gap) / sd) - special.ndtr((-half - gap) / sd))
    yield worst_tenth("share of good assemblies at the best target", f"n = {n} mates and n cut before", said, happened)


def rows(rng: np.random.Generator, size: int) -> Iterator[dict]:
    """Yield all rows."""
    for n in PIECES:
        for name in GAUGES:
            yield from predictive_rows(rng, n, name, size)
    for n in PIECES:
        yield from predictive_rows(rng, n, "no gauge error", size, favoured=True)
        yield from measured_rows(rng, n, max(size // 8, 60))
        yield from pairing_rows(rng, n, max(size // 8, 60))
        yield from target_rows(rng, n, max(size // 8, 60))
