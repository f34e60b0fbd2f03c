"""Which pairs of a fit may meet at the press, by what its verdict tells the bench to do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tracker.fit import Classes

Floats = npt.NDArray[np.float64]

MOST_PAIRS = 4_000_000
"""Pairs that are looked at one by one; of more, an even choice of sizes a side with both ends, so the ends hold."""

LISTED = "the pairs listed"
PLANNED = "the pairs as the plan lists them"
IN_A_TRAY = "every pair that may meet in a tray"
ANY_ORDER = "every pair that may meet in any order"


@dataclass(frozen=True, slots=True)
class Meeting:
    """The gaps of all pairs that may meet, and in words which pairs those are."""

    gaps: Floats
    over: str


def meeting(
    word: str, internal: Floats, external: Floats, trays: Classes | None, listed: Floats, planned: Sequence[float]
) -> Meeting:
    """Return the pairs that the instruction of a verdict lets meet.

    Parameters
    ----------
    word : str
        The verdict.
    internal, external : array
        Sizes of the pieces, in the order that ``trays`` counts them.
    trays : Classes or None
    listed : array
        Gaps of the best pairing.
    planned : sequence of float
        Gaps of the plan; empty where it works on no piece.
    """
    if word == "press as they come":
        return Meeting(_every(internal, external), ANY_ORDER)
    if word == "sort" and trays is not None:
        within = [
            _every(internal[trays.class_internal == tray], external[trays.class_external == tray])
            for tray in range(len(trays.labels))
        ]
        return Meeting(np.concatenate(within), IN_A_TRAY)
    if word in ("rework", "remake") and len(planned):
        return Meeting(np.asarray(planned, dtype=np.float64), PLANNED)
    return Meeting(listed, LISTED)


def _every(internal: Floats, external: Floats) -> Floats:
    """Return the gap of each piece with each."""
    if internal.size * external.size > MOST_PAIRS:
        internal, external = (_thinned(side, int(MOST_PAIRS**0.5)) for side in (internal, external))
    return np.asarray(np.subtract.outer(internal, external).ravel(), dtype=np.float64)


def _thinned(sizes: Floats, most: int) -> Floats:
    if sizes.size <= most:
        return sizes
    return np.asarray(np.sort(sizes)[np.linspace(0, sizes.size - 1, most).round().astype(int)], dtype=np.float64)
