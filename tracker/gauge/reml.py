"""Variance components of an unbalanced crossed study by restricted maximum likelihood."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tracker.errors import NotEnoughData, TrackerError
from tracker.gauge.crossed import Cells

STEPS = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class CrossedFit:
    """Estimated variances, and their covariance from the expected information (0 rows where a variance is 0)."""

    piece: float
    operator: float
    interaction: float
    error: float
    covariance: np.ndarray
    log_likelihood: float


def crossed_reml(cells: Cells, *, interaction: bool = True) -> CrossedFit:
    """Return the restricted maximum-likelihood variances of pieces, operators, interaction and error.

    Parameters
    ----------
    cells : Cells
        The study; cells may be empty or of different counts.
    interaction : bool
        Whether the model has an interaction between piece and operator.

    Returns
    -------
    CrossedFit

    Raises
    ------
    NotEnoughData
        When no cell holds two readings and an interaction is asked for.

    Notes
    -----
    Cell means and the squares within cells hold all the information of normal readings, so the likelihood is
    computed on cells: their number, not that of readings, sets the time. Fisher scoring with halved steps;
    a variance that would turn negative is held at 0 while its slope points outward.

    References
    ----------
    Searle, Casella & McCulloch, *Variance Components* (1992), chapter 6 (from memory). Held against an
    independent mixed-model fit in tests/tracker/gauge/test_reml.py.
    """
    used = cells.count > 0
    n = cells.count[used].astype(float)
    y = cells.mean[used] - cells.grand_mean
    row, column = np.nonzero(used)
    within, within_dof = float(cells.squares.sum()), int(cells.total - n.size)
    if interaction and within_dof < 1:
        raise NotEnoughData("no operator read a piece twice, so interaction and repeatability cannot be told apart")
    parts = [np.equal.outer(row, row).astype(float), np.equal.outer(column, column).astype(float)]
    parts += [np.eye(n.size), np.diag(1.0 / n)]
    free = np.array([True, np.unique(column).size > 1, interaction, True])
    scale = float(np.var(y, ddof=1)) + within / max(within_dof, 1)
    if scale == 0:
        raise NotEnoughData("all readings are the same; read to a finer step")
    model = _Model(y=y / np.sqrt(scale), parts=parts, within=within / scale, within_dof=within_dof)
    theta = np.where(free, 0.25, 0.0)
    theta, information, likelihood, held = _score(model, theta, free)
    covariance = np.zeros((4, 4))
    moving = np.flatnonzero(free & ~held)
    covariance[np.ix_(moving, moving)] = np.linalg.pinv(information[np.ix_(moving, moving)])
    found = (theta * scale).tolist()
    return CrossedFit(
        piece=found[0],
        operator=found[1],
        interaction=found[2],
        error=found[3],
        covariance=covariance * scale**2,
        log_likelihood=float(likelihood) - 0.5 * float(np.log(scale)) * (n.size - 1 + within_dof),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Model:
    """Cell means with the matrices their variances multiply, and what repeats within cells say."""

    y: np.ndarray
    parts: list[np.ndarray]
    within: float
    within_dof: int

    def likelihood(self, theta: np.ndarray) -> float:
        """Restricted log-likelihood, up to a constant."""
        v = sum(t * part for t, part in zip(theta, self.parts))
        sign, log_det = np.linalg.slogdet(v)
        if sign <= 0 or theta[3] <= 0:
            return -np.inf
        inverse_one = np.linalg.solve(v, np.ones(self.y.size))
        weight = float(inverse_one.sum())
        centred = self.y - float(inverse_one @ self.y) / weight
        quadratic = float(centred @ np.linalg.solve(v, centred))
        inside = self.within_dof * np.log(theta[3]) + self.within / theta[3]
        return float(-0.5 * (log_det + np.log(weight) + quadratic + inside))

    def slope(self, theta: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Slope of the likelihood and the expected information."""
        inverse = np.linalg.inv(sum(t * part for t, part in zip(theta, self.parts)))
        ones = inverse.sum(axis=1)
        projection = inverse - np.outer(ones, ones) / ones.sum()
        projected = [projection @ part for part in self.parts]
        py = projection @ self.y
        score = np.array([-0.5 * (np.trace(pv) - py @ part @ py) for pv, part in zip(projected, self.parts)])
        information = 0.5 * np.array([[np.sum(a * b.T) for b in projected] for a in projected])
        score[3] -= 0.5 * (self.within_dof / theta[3] - self.within / theta[3] ** 2)
        information[3, 3] += 0.5 * self.within_dof / theta[3] ** 2
        return score, information


def _score(model: _Model, theta: np.ndarray, free: np.ndarray) -> tuple[np.ndarray, np.ndarray, float, np.ndarray]:
    """Return the maximum, the information there, the likelihood, and which variances are held at 0."""
    best = model.likelihood(theta)
    for _ in range(STEPS):
        score, information = model.slope(theta)
        held = (theta <= 0) & (score <= 0)
        moving = np.flatnonzero(free & ~held)
        step = np.zeros(4)
        step[moving] = np.linalg.lstsq(information[np.ix_(moving, moving)], score[moving], rcond=None)[0]
        share, gained = 1.0, False
        while share > 1e-10:
            trial = np.maximum(theta + share * step, 0.0)
            trial[3] = max(float(trial[3]), theta[3] * 1e-3)
            value = model.likelihood(trial)
            if value > best:
                gained = True
                break
            share /= 2
        if not gained:
            return theta, information, best, held
        moved = float(np.max(np.abs(trial - theta) / (np.abs(theta) + 1e-8)))
        theta, best = trial, value
        if moved < 1e-12:
            score, information = model.slope(theta)
            return theta, information, best, (theta <= 0) & (score <= 0)
    raise TrackerError("the variances did not settle; look for readings far from all the others in the study")
