"""How often a steady run of as many pieces shows a signal, so that a signal is not taken for more than it is."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from tracker.decide.words import number_word
from tracker.drift import HANDBOOK_SIGNALS, Watched, watch_runs
from tracker.errors import NotEnoughData
from tracker.judge import FeatureCheck

RUNS, AT_ONCE = 600, 100
SEED = 1
NEARLY_ALL = 0.99


def steady_words(found: FeatureCheck, watched: Watched) -> str:
    """Return in a sentence how often steady pieces, as many and cut by the same events, show at least one signal."""
    cuts = tuple(sorted({int(after) for after, _ in found.events if 0 < after < watched.n}))
    chance = steady_chance(watched.n, cuts, on_line=watched.about == "the wear line")
    often = f"about {round(100 * chance)} %"
    if chance > NEARLY_ALL:
        often = "over 99 %"
    elif chance < 1 - NEARLY_ALL:
        often = "under 1 %"
    kinds = number_word(len(HANDBOOK_SIGNALS))
    return f"A steady run of {watched.n} pieces shows at least one of these {kinds} by chance in {often} of cases."


@lru_cache(maxsize=256)
def steady_chance(pieces: int, cuts: tuple[int, ...] = (), *, on_line: bool = False) -> float:
    """Return the chance that steady pieces show at least one of the signals looked for.

    Parameters
    ----------
    pieces : int
    cuts : tuple of int
        After which pieces somebody touched the machine.
    on_line : bool
        Whether distances are taken from a line through the pieces, as where wear is seen.

    Returns
    -------
    float
        To about 0.02: a share of `RUNS` simulated batches, always the same ones.

    Notes
    -----
    Normal sizes without drift, looked at as the page looks at its own: centre and spread come from the pieces
    themselves, so the chance is another one than with a known centre and spread.
    """
    rng = np.random.default_rng(SEED)
    events = [(float(after), "event") for after in cuts]
    order = np.arange(pieces, dtype=float)
    lines = _columns(order, cuts) if on_line else None
    seen = tried = 0
    while tried < RUNS:
        for _ in range(AT_ONCE):
            sizes = rng.standard_normal(pieces)
            if lines is not None:
                sizes = sizes - lines @ np.linalg.lstsq(lines, sizes, rcond=None)[0]
            try:
                seen += bool(watch_runs(sizes, events).signals)
            except NotEnoughData:
                return 0.0
        tried += AT_ONCE
        if seen in (0, tried) and tried >= 2 * AT_ONCE:  # thousands of pieces always show one: no need to go on
            break
    return seen / tried


def _columns(order: np.ndarray, cuts: tuple[int, ...]) -> np.ndarray:
    """Return the columns of one slope and a level a run."""
    run = np.searchsorted(np.asarray(cuts), order, side="right")
    return np.column_stack([order, *[(run == number).astype(float) for number in range(len(cuts) + 1)]])
