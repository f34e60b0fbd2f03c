"""How wide a band to leave alone when the process itself wanders: bounded adjustment."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tracker.errors import TrackerError
from tracker.given import finite_number, number
from tracker.result import Result

NODES = 160
WIDEST = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class BoundedAdjustment(Result):
    """What a band of a given width means for a process that wanders.

    Attributes
    ----------
    pieces_between : float
        Pieces between two adjustments, on average.
    sd_increase : float
        How much larger the spread about the target is than with an adjustment at every piece, as a share.
    band, wander, sd : float
        Half-width of the band, share of each surprise that stays, sd of the surprises.
    method : str
        How it was found.
    """

    pieces_between: float
    sd_increase: float
    band: float
    wander: float
    sd: float
    method: str

    def __str__(self) -> str:
        return (
            f"Adjusted when the level is thought to be {self.band:.4g} off: every {self.pieces_between:.4g} pieces on "
            f"average, with {100 * self.sd_increase:.3g} % more spread than adjusting at every piece."
        )


def bounded_adjustment(wander: float, band: float, sd: float = 1.0) -> BoundedAdjustment:
    """Return how often a band asks for an adjustment, and what it costs in spread.

    Parameters
    ----------
    wander : float
        Share of each piece's surprise that stays in the process from then on (0 to 1): the weight of the
        exponentially weighted average that forecasts it best.
    band : float
        Adjust when the forecast is at least this far from target; same unit as ``sd``.
    sd : float
        Standard deviation of the surprises (one-step forecast errors).

    Raises
    ------
    TrackerError
        If ``wander`` is not above 0 and at most 1, or a length is not above zero.

    Notes
    -----
    The process is an integrated moving average: level(t+1) = level(t) + wander * a(t), size(t) = level(t) + a(t).
    Between adjustments the forecast is a random walk that starts at 0 and stops when it leaves the band; the mean
    number of its steps and the mean sum of its squares solve two integral equations (Gauss-Legendre, 160 nodes).
    A process that holds its level between set-ups does not wander: there the band of `next_shift` applies.

    References
    ----------
    Box & Luceno, *Statistical Control by Monitoring and Feedback Adjustment*, 1997 (definitions; from memory).
    Checked in tests/published/test_decide_adjustment.py.

    Examples
    --------
    >>> answer = bounded_adjustment(0.3, 1.0)
    >>> round(answer.pieces_between, 2), round(100 * answer.sd_increase, 2)
    (15.58, 9.83)
    """
    if not 0 < number(wander, "wander") <= 1:
        raise TrackerError(f"wander is {wander!r}; it lies above 0 and up to 1")
    if not (finite_number(band, "band") > 0 and finite_number(sd, "sd") > 0):
        raise TrackerError(f"band is {band!r} and sd {sd!r}; give lengths above zero")
    limit = band / sd
    if not (limit < WIDEST and wander > 1 / WIDEST):
        raise TrackerError(
            f"band is {band!r}, sd {sd!r} and wander {wander!r}; a band of {WIDEST:g} sds or more, or a wander that "
            "small, is never left: nothing is ever adjusted"
        )
    x, weight = np.polynomial.legendre.leggauss(NODES)
    x, weight = x * limit, weight * limit
    step = np.exp(-0.5 * ((x[None, :] - x[:, None]) / wander) ** 2) / (wander * math.sqrt(2 * math.pi)) * weight
    from_zero = np.exp(-0.5 * (x / wander) ** 2) / (wander * math.sqrt(2 * math.pi)) * weight
    solved = np.linalg.solve(np.eye(NODES) - step, np.stack([np.ones(NODES), x * x], axis=1))
    steps = 1.0 + float(from_zero @ solved[:, 0])
    squares = float(from_zero @ solved[:, 1])
    return BoundedAdjustment(
        pieces_between=steps,
        sd_increase=math.sqrt(1.0 + squares / steps) - 1.0,
        band=band,
        wander=wander,
        sd=sd,
        method="integral equation",
    )
