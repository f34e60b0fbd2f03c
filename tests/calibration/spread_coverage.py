"""Coverage of the intervals of ``tracker.spread`` at n = 5, 8, 12, 30, under their assumptions."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from _rows import SAID, row

from tracker.spread import (
    capability,
    components,
    grouped_sums,
    predict,
    summarize,
    tolerance_factor,
)
from tracker.spread.estimates import estimate
from tracker.spread.fallout import total_bounds
from tracker.spread.indices import index_interval
from tracker.spread.prediction import all_within, tail_chances
from tracker.spread.process import cpm_bounds
from tracker.spread.subgroups import within_spread

PIECES = (5, 8, 12, 30)


def rows(rng: np.random.Generator, size: int) -> Iterator[dict]:
    """Yield the rows; ``size`` batches each, a quarter of it where every batch takes long."""
    few = max(size // 4, 50)
    for n in PIECES:
        yield from scalar_intervals(rng, n, size)
    for n in PIECES:
        yield from index_rows(rng, n, max(size // 2, 100))
    for n in PIECES:
        yield from cpm_rows(rng, n, size)
        yield from share_rows(rng, n, max(size // 8, 40))
    for n in PIECES:
        yield from chance_rows(rng, n, size)
    for n in PIECES:
        yield from component_rows(rng, n, few)


def scalar_intervals(rng, n, tries):
    """Yield mean, sd, prediction and tolerance intervals, through the public functions."""
    hits = {"mean": [], "sd": [], "next piece": [], "next three": []}
    shares = {2: [], 1: []}
    for _ in range(tries):
        sizes = rng.normal(0.0, 1.0, n)
        found = summarize(sizes)
        hits["mean"].append(found.mean.low <= 0 <= found.mean.high)
        hits["sd"].append(found.sd.low <= 1 <= found.sd.high)
        new = rng.normal(0.0, 1.0, 3)
        one = predict(sizes)
        hits["next piece"].append(one.low <= new[0] <= one.high)
    k3 = {sides: tolerance_factor(n, 0.95, 0.95, sides) for sides in (1, 2)}
    reach = predict(np.arange(float(n)), pieces=3).high - (n - 1) / 2
    reach /= np.arange(float(n)).std(ddof=1)
    batch = rng.normal(0.0, 1.0, (tries, n))
    mean, sd = batch.mean(axis=1), batch.std(axis=1, ddof=1)
    new = rng.normal(0.0, 1.0, (tries, 3))
    hits["next three"] = (np.abs(new - mean[:, None]) <= reach * sd[:, None]).all(axis=1)
    shares[2] = phi(mean + k3[2] * sd) - phi(mean - k3[2] * sd) >= 0.95
    shares[1] = phi(mean + k3[1] * sd) >= 0.95
    for name, hit in hits.items():
        yield row(f"interval of the {name}", f"normal, n = {n}", hit)
    yield row("tolerance interval, 95 % of pieces, two sides", f"normal, n = {n}", shares[2])
    yield row("tolerance bound, 95 % of pieces, one side", f"normal, n = {n}", shares[1])


def chance_rows(rng, n, tries):
    """Yield the honesty of predictive chances: what was said against what happened, worst of ten groups.

    Limits are drawn at random places relative to mean and sd of the batch, as they lie when nothing but the batch
    tells where the process is. (For one fixed process and fixed limits a predictive chance is shy by design: at n = 5
    it says 85 % on average where 95 % would happen.)
    """
    for pieces, name in ((1, "one piece"), (3, "three pieces")):
        said, happened = np.empty(tries), np.empty(tries, dtype=bool)
        for i in range(tries):
            found = estimate(rng.normal(0.0, 1.0, n))
            low = found.mean - found.sd * rng.uniform(-1.0, 3.0)
            high = low + found.sd * rng.uniform(0.5, 5.0)
            if pieces == 1:
                said[i] = 1.0 - sum(tail_chances(found, n, low, high))
            else:
                said[i] = all_within(found, n, low, high, pieces)
            new = rng.normal(0.0, 1.0, pieces)
            happened[i] = bool(((new >= low) & (new <= high)).all())
        group = np.minimum((said * 10).astype(int), 9)
        sums = grouped_sums(happened - said, group, 10)
        worst = int(np.argmax(np.abs(sums.mean)))
        yield {
            "what": f"gap between chance said and happened, {name}, worst of ten groups",
            "setting": f"n = {n}, said about {worst / 10 + 0.05:.0%}".replace("%", " %"),
            "said": 0.0,
            "happened": float(np.abs(sums.mean[worst])),
            # the spread of a yes or no about its chance, as tries of a share near zero
            "tries": int(sums.n[worst]),
            "low": 0.0,
            "high": 0.02 + 2.5 * math.sqrt(0.25 / max(int(sums.n[worst]), 1)),
            "note": "bound 2 points and the noise of the tries",
        }


def phi(x):
    """Return the standard normal distribution function."""
    from scipy import special

    return special.ndtr(x)


def index_rows(rng, n, tries, indices=(0.5, 1.0, 1.33, 2.0), offsets=(0.0, 0.5, 2.0)):
    """Yield Cp, Cpk, Pp, Ppk: all batches at once, the spread overall, pooled and by moving range."""
    for index in indices:
        for offset in offsets:
            half = 3 * index + offset
            batch = rng.normal(offset, 1.0, (tries, n))
            mean, sd = batch.mean(axis=1), batch.std(axis=1, ddof=1)
            low, high = index_interval(mean, sd, n, n - 1, -half, half, SAID)
            truth = f"n = {n}, index {index:g}, mean {offset:g} sd off the middle"
            yield row("Ppk, two limits", truth, (low <= index) & (index <= high))
            if index == 1.33 and offset in (0.0, 0.5, 2.0):
                example = within_spread(batch[0], None, None)
                ranges = np.abs(np.diff(batch, axis=1)).mean(axis=1) * math.sqrt(math.pi) / 2 * example.chi_scale
                low, high = index_interval(mean, ranges, n, example.dof, -half, half, SAID)
                yield row("Cpk, moving range", truth, (low <= index) & (index <= high))
        batch = rng.normal(0.0, 1.0, (tries, n))
        mean, sd = batch.mean(axis=1), batch.std(axis=1, ddof=1)
        low, high = index_interval(mean, sd, n, n - 1, -np.inf, 3 * index, SAID)
        yield row("Ppk, one limit", f"n = {n}, index {index:g}", (low <= index) & (index <= high))
    example = capability(np.arange(float(n)), -10.0 * n, 11.0 * n, distribution="normal")
    # The chi-square factors are those of the public function: interval over estimate does not depend on the batch.
    batch = rng.normal(0.0, 1.0, (tries, n))
    sd = batch.std(axis=1, ddof=1)
    ranges = np.abs(np.diff(batch, axis=1)).mean(axis=1) * math.sqrt(math.pi) / 2
    for name, spread, found in (("Pp", sd, example.pp), ("Cp, moving range", ranges, example.cp)):
        low, high = found.low / found.estimate / spread, found.high / found.estimate / spread
        yield row(name, f"n = {n}", (low <= 1) & (high >= 1))
    for group, size in ((4, 2), (2, 5)):
        sums = grouped_sums(rng.normal(0.0, 1.0, tries * group * size), np.repeat(np.arange(tries * group), size))
        spread = (sums.maximum - sums.minimum).reshape(tries, group).mean(axis=1)
        some = within_spread(np.arange(float(group * size)), size, "mean_range")
        shape = capability(
            np.arange(float(group * size)), -99.0, 99.0, subgroup=size, within="mean_range", distribution="normal"
        ).cp
        spread /= (size - 1) / some.sd  # some.sd is (size - 1)/d2
        low, high = shape.low / shape.estimate / spread, shape.high / shape.estimate / spread
        if n == PIECES[0]:
            yield row("Cp, mean range", f"{group} subgroups of {size}", (low <= 1) & (high >= 1))


def cpm_rows(rng, n, tries):
    """Yield Cpm: Boyles' approximation."""
    for off in (0.0, 0.5, 1.0, 2.0):
        batch = rng.normal(off, 1.0, (max(tries // 4, 200), n))
        mean, sd = batch.mean(axis=1), batch.std(axis=1, ddof=1)
        point = 4.0 / (3 * sd * np.sqrt(1 + (mean / sd) ** 2))
        true = 4.0 / (3 * math.sqrt(1 + off * off))
        ends = np.array([cpm_bounds(p, m / s, n, n - 1, SAID) for p, m, s in zip(point, mean, sd, strict=True)])
        yield row("Cpm", f"n = {n}, mean {off:g} sd off target", (ends[:, 0] <= true) & (true <= ends[:, 1]))


def share_rows(rng, n, tries):
    """Yield the share beyond both limits."""
    for half, off in ((2.0, 0.0), (2.5, 0.5), (3.0, 1.0)):
        true = phi(-half - off) + phi(off - half)
        hits = []
        for _ in range(tries):
            # What `capability` gives as the ends of ``beyond``, without the time that the rest of it takes.
            found = estimate(rng.normal(off, 1.0, n))
            low, high = total_bounds(found, -half, half, (0.025, 0.975))
            hits.append(low <= true <= high)
        truth = f"n = {n}, limits at {half:g} sd, mean {off:g} sd off"
        yield row("share beyond both limits", truth, hits)


def component_rows(rng, n, tries):
    """Yield components of variance, balanced and not, nested."""
    for between in (0.3, 1.0, 3.0):
        hits = {"between pieces": [], "within a piece": [], "ratio": []}
        uneven = {"between pieces": [], "within a piece": [], "ratio": []}
        for _ in range(tries):
            piece = np.repeat(np.arange(n), 2)
            value = rng.normal(0.0, between, n)[piece] + rng.normal(0.0, 1.0, piece.size)
            collect(hits, components(value, piece), between, 1.0)
            repeats = np.resize([2, 3, 1, 2], n)
            piece = np.repeat(np.arange(n), repeats)
            value = rng.normal(0.0, between, n)[piece] + rng.normal(0.0, 1.0, piece.size)
            collect(uneven, components(value, piece), between, 1.0)
        truth = f"{n} pieces read twice, sd between {between:g} of within"
        for name, hit in hits.items():
            yield row(f"component {name}", truth, hit)
        truth = f"{n} pieces read 1 to 3 times, sd between {between:g} of within"
        for name, hit in uneven.items():
            yield row(f"component {name}, unbalanced", truth, hit, low=0.93, note="approximate, and the result says so")
    hits = {"between pieces": [], "form": [], "repeatability": [], "within": []}
    for _ in range(tries // 2):
        piece = np.repeat(np.arange(n), 6)
        spot = np.tile([0, 0, 1, 1, 2, 2], n)
        value = rng.normal(0.0, 2.0, n)[piece] + rng.normal(0.0, 1.0, 3 * n)[piece * 3 + spot]
        found = components(value + rng.normal(0.0, 0.7, piece.size), piece, spot)
        for name, interval, true in (
            ("between pieces", found.between_sd, 2.0),
            ("form", found.form_sd, 1.0),
            ("repeatability", found.repeatability_sd, 0.7),
            ("within", found.within_sd, math.hypot(1.0, 0.7)),
        ):
            hits[name].append(interval.low <= true <= interval.high)
    for name, hit in hits.items():
        yield row(f"nested component {name}", f"{n} pieces, 3 positions read twice", hit)


def collect(hits, found, between, within):
    """Note whether the intervals of a one-way analysis hold the truth."""
    hits["between pieces"].append(found.between_sd.low <= between <= found.between_sd.high)
    hits["within a piece"].append(found.within_sd.low <= within <= found.within_sd.high)
    hits["ratio"].append(found.ratio.low <= (between / within) ** 2 <= found.ratio.high)
