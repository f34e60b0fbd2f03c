"""Coverage of the intervals from bounds and coarse readings, and of families that are not normal."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from _rows import row

from tracker.spread import capability, interval_fit

PIECES = (5, 8, 12, 30)


def rows(rng: np.random.Generator, size: int) -> Iterator[dict]:
    """Yield the rows; a tenth or a twentieth of ``size`` batches each, for every one is fitted on its own."""
    for n in PIECES:
        yield from bounds_rows(rng, n, max(size // 10, 50))
    for n in (*PIECES, 50, 100, 200):
        yield from family_rows(rng, n, max(size // 20, 50))


def bounds_rows(rng, n, tries):
    """Yield go / no-go and coarse readings."""
    for step in (0.5, 1.0, 2.0):
        mean_hits, sd_hits, refused = [], [], 0
        for _ in range(tries):
            start = rng.uniform(0.0, step)
            low = np.floor((rng.normal(0.0, 1.0, n) - start) / step) * step + start
            found = interval_fit(low, low + step)
            if found.mean is None:
                refused += 1
                continue
            mean_hits.append(found.mean.low <= 0 <= found.mean.high)
            sd_hits.append(found.sd.low <= 1 <= found.sd.high)
        truth = f"n = {n}, pins {step:g} sd apart"
        note = f"could not tell {100 * refused / tries:.1f} % of the time" if refused else ""
        # Of the few batches of five that coarse pins can tell anything about, fewer sds are held; the result says so.
        low = 0.94 if step < 2.0 else 0.90
        yield row("go / no-go mean", truth, mean_hits, low=low, high=1.0, note=note)
        yield row("go / no-go sd", truth, sd_hits, low=low, high=0.99, note=note)


def family_rows(rng, n, tries):
    """Yield Ppk by quantiles of families that are not normal, large-sample intervals."""
    limits = {"rayleigh": 4.5, "weibull": 2.5, "lognormal": 3.0, "folded_normal": 4.0}
    for family, upper in limits.items():
        draw = {
            "rayleigh": lambda: rng.rayleigh(1.0, n),
            "weibull": lambda: rng.weibull(2.0, n),
            "lognormal": lambda: rng.lognormal(0.0, 0.3, n),
            "folded_normal": lambda: np.abs(rng.normal(1.0, 1.0, n)),
        }[family]
        true, beyond = true_quantile_index(family, upper), true_share(family, upper)
        hits, share_hits = [], []
        for _ in range(tries):
            found = capability(draw(), None, upper, distribution=family)
            hits.append(found.ppk.low <= true <= found.ppk.high)
            share_hits.append(found.beyond.low <= beyond <= found.beyond.high)
        words, rough = family.replace("_", " "), family == "folded_normal" and n < 100
        note = "approximate, and the result says so" if rough else ""
        yield row(f"Ppk of a {words}", f"n = {n}", hits, 0.89 if rough else 0.94, note=note)
        yield row(f"share beyond of a {words}", f"n = {n}", share_hits, 0.94, 0.995 if rough else 0.96, note=note)


TRUE_FAMILIES = {
    "rayleigh": ("rayleigh",),
    "weibull": ("weibull_min", 2.0),
    "lognormal": ("lognorm", 0.3),
    "folded_normal": ("foldnorm", 1.0),
}


def true_family(family):
    """Return the family the batches are drawn from, by scipy.stats."""
    from scipy import stats

    name, *shape = TRUE_FAMILIES[family]
    return getattr(stats, name)(*shape)


def true_share(family, upper):
    """Return the true share above the limit."""
    return float(true_family(family).sf(upper))


def true_quantile_index(family, upper):
    """Return the true index of the upper limit."""
    middle, high = true_family(family).ppf([0.5, 0.99865])
    return (upper - middle) / (high - middle)
