"""Uncertainty budgets: rows combined into one standard and one expanded uncertainty."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special

from tracker.errors import TrackerError
from tracker.gauge.trials import MonteCarlo, draw_trials
from tracker.plurals import noun
from tracker.result import Result
from tracker.spread.arguments import above_zero, checked_confidence, finite_number, no_less_than_zero, share
from tracker.spread.arguments import number as as_number

HALF_WIDTH_DIVISOR = {"rectangular": math.sqrt(3), "triangular": math.sqrt(6), "arcsine": math.sqrt(2)}
DISTRIBUTIONS = ("normal", *HALF_WIDTH_DIVISOR)
FEW_DOF = 10
Model = Callable[[np.ndarray], Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetRow(Result):
    """One source of uncertainty.

    Attributes
    ----------
    name : str
    standard : float
        Standard uncertainty, in the row's own unit.
    estimate : float
        Best value of the input.
    sensitivity : float or None
        Change of the result for a change of the input by one (a model, when given, overrides it).
    dof : float
        Degrees of freedom of ``standard`` (infinite when it is taken as known).
    distribution : str
        ``normal``, ``rectangular``, ``triangular`` or ``arcsine``: used by the Monte Carlo trials.
    """

    name: str
    standard: float
    estimate: float = 0.0
    sensitivity: float | None = 1.0
    dof: float = math.inf
    distribution: str = "normal"


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution(Result):
    """What one row brings to the result: ``contribution`` is |sensitivity| times standard uncertainty.

    ``share`` is its part of the summed squares of all rows, correlations left out.
    """

    name: str
    estimate: float
    standard: float
    sensitivity: float
    contribution: float
    share: float
    dof: float
    distribution: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Budget(Result):
    """A combined uncertainty.

    Attributes
    ----------
    value : float
        The result: the model at the estimates, or the sum of sensitivity times estimate.
    standard : float
        Combined standard uncertainty.
    dof : float
        Effective degrees of freedom, not cut to a whole number (infinite when all rows are).
    coverage_factor, expanded : float
        Factor and expanded uncertainty.
    confidence : float or None
        What the factor was chosen for (None when the factor was given).
    contributions : tuple of Contribution
    covariance : ndarray, shape (k, k)
        Covariance of the inputs.
    monte_carlo : MonteCarlo or None
        The same by random trials, when an ``rng`` was given.
    """

    value: float
    standard: float
    dof: float
    coverage_factor: float
    expanded: float
    confidence: float | None
    contributions: tuple[Contribution, ...]
    covariance: np.ndarray
    correlated: bool
    monte_carlo: MonteCarlo | None
    n: int
    method: str

    def __str__(self) -> str:
        """Say the result with its expanded uncertainty and the row that matters most."""
        dof = "unlimited" if math.isinf(self.dof) else f"{self.dof:.1f}"
        aimed = "" if self.confidence is None else f" for {share(self.confidence)}"
        text = (
            f"{self.value:.8g} ± {self.expanded:.3g} (standard uncertainty {self.standard:.4g}, coverage factor "
            f"{self.coverage_factor:.3g}{aimed}, {dof} degrees of freedom; {self.n} {noun(self.n, 'row')}, "
            f"{self.method})."
        )
        largest = max(self.contributions, key=lambda row: row.contribution)
        if largest.contribution > 0:
            text += f" Most of it comes from {largest.name} ({share(round(largest.share, 2))})."
        if self.confidence == 0.95 and self.dof < FEW_DOF:
            text += " With so few degrees of freedom it covers 95 to 98 %."
        if self.monte_carlo is not None:
            text += f" {self.monte_carlo}"
        return text


def half_width_row(
    name: str,
    half_width: float,
    distribution: str = "rectangular",
    estimate: float = 0.0,
    sensitivity: float | None = 1.0,
) -> BudgetRow:
    """Return a row known only as "at most so far to either side" (GUM 4.3.7-4.3.9).

    Examples
    --------
    >>> round(half_width_row("one step of the dial", 0.0005).standard, 7)
    0.0002887
    """
    if distribution not in HALF_WIDTH_DIVISOR:
        raise TrackerError(f"distribution {distribution!r} has no half-width; one of {sorted(HALF_WIDTH_DIVISOR)}")
    return BudgetRow(
        name=name,
        standard=no_less_than_zero(half_width, "half_width") / HALF_WIDTH_DIVISOR[distribution],
        estimate=finite_number(estimate, "estimate"),
        sensitivity=None if sensitivity is None else finite_number(sensitivity, "sensitivity"),
        distribution=distribution,
    )


def uncertainty_budget(
    rows: Sequence[BudgetRow | Mapping[str, Any] | Sequence[Any]],
    correlation: np.ndarray | Mapping[tuple[str, str], float] | None = None,
    confidence: float = 0.95,
    coverage_factor: float | None = None,
    model: Model | None = None,
    rng: np.random.Generator | None = None,
    trials: int = 200_000,
) -> Budget:
    """Return the combined and expanded uncertainty of a measurement.

    Parameters
    ----------
    rows : sequence
        `BudgetRow`; or mappings with its fields; or plain sequences in the order estimate, standard
        uncertainty, sensitivity, degrees of freedom, distribution (from the right, any may be left off but
        the first two).
    correlation : ndarray (k, k) or mapping of pairs of names to a coefficient, optional
        Correlation of the inputs.
    confidence : float
        What the coverage factor is chosen for.
    coverage_factor : float, optional
        Use this factor (2 by convention of many certificates) in place of the t factor.
    model : callable, optional
        Gives the result from an array of inputs; first axis is the row, further axes (trials) must pass
        through. All sensitivities are then found from it, by central differences.
    rng : numpy.random.Generator, optional
        When given, the Monte Carlo trials of JCGM 101 stand beside the result.
    trials : int
        Number of trials.

    Returns
    -------
    Budget

    Raises
    ------
    TrackerError
        When a row cannot be read, an uncertainty is negative, or the correlations are impossible.

    Notes
    -----
    First order (GUM 5.1, 5.2): right when the model is nearly straight over the uncertainties; the trials show
    when it is not. Effective degrees of freedom after Welch-Satterthwaite (GUM G.4), cut to the next lower
    whole number for the t factor. Correlated rows are first combined into one contribution with the smallest
    degrees of freedom among them (exact for simultaneous repeated observations, cautious otherwise).

    References
    ----------
    JCGM 100:2008 (GUM), 4, 5, G.4, H.1, H.2; JCGM 101:2008 (from memory). Worked examples in
    tests/published/test_gauge_uncertainty.py.

    Examples
    --------
    >>> budget = uncertainty_budget([(0, 3.0, 1, 4), (0, 4.0, 1, 9), (0, 1.0)])
    >>> round(budget.standard, 3), round(budget.dof, 1), round(budget.coverage_factor, 3)
    (5.099, 13.9, 2.16)
    """
    if not isinstance(rows, Sequence | np.ndarray) or isinstance(rows, str):
        raise TrackerError(f"rows are {rows!r}; give a list with one row for each source of uncertainty")
    if not len(rows):
        raise TrackerError("the budget has no rows; give at least one source of uncertainty")
    checked_confidence(confidence)
    read = [_read_row(row, number) for number, row in enumerate(rows, start=1)]
    estimates = np.array([row.estimate for row in read])
    standards = np.array([row.standard for row in read])
    dofs = np.array([row.dof for row in read])
    sensitivities = _sensitivities(read, estimates, standards, model)
    matrix = _correlation_matrix(correlation, [row.name for row in read])
    covariance = matrix * np.outer(standards, standards)
    variance = float(sensitivities @ covariance @ sensitivities)
    standard = math.sqrt(max(variance, 0.0))
    dof = effective_dof(sensitivities, covariance, dofs)
    factor = _t_factor(dof, confidence) if coverage_factor is None else above_zero(coverage_factor, "coverage_factor")
    value = float(sensitivities @ estimates) if model is None else float(model(estimates))
    if not math.isfinite(value):
        raise TrackerError(f"the model gives {value} at the estimates; give estimates at which it can be computed")
    squares = (sensitivities * standards) ** 2
    total = float(squares.sum())
    contributions = tuple(
        Contribution(
            name=row.name,
            estimate=row.estimate,
            standard=row.standard,
            sensitivity=float(c),
            contribution=math.sqrt(square),
            share=square / total if total > 0 else 0.0,
            dof=row.dof,
            distribution=row.distribution,
        )
        for row, c, square in zip(read, sensitivities.tolist(), squares.tolist())
    )
    monte_carlo = None
    if rng is not None:
        straight = model if model is not None else (lambda inputs: np.tensordot(sensitivities, inputs, axes=1))
        monte_carlo = draw_trials(
            straight, estimates, standards, dofs, [row.distribution for row in read], matrix, confidence, trials, rng
        )
    correlated = bool(np.any(matrix != np.eye(len(read))))
    return Budget(
        value=value,
        standard=standard,
        dof=dof,
        coverage_factor=factor,
        expanded=factor * standard,
        confidence=confidence if coverage_factor is None else None,
        contributions=contributions,
        covariance=covariance,
        correlated=correlated,
        monte_carlo=monte_carlo,
        n=len(read),
        method="first order after the GUM" + (", correlations included" if correlated else ""),
    )


def result_correlation(first: Budget, second: Budget) -> float:
    """Return the correlation of two results that share the same inputs, in the same order (GUM H.2.4)."""
    if first.covariance.shape != second.covariance.shape or not np.allclose(first.covariance, second.covariance):
        raise TrackerError("the two budgets do not have the same inputs; build both from the same rows")
    if first.standard == 0 or second.standard == 0:
        raise TrackerError("a result without uncertainty has no correlation")
    a = np.array([row.sensitivity for row in first.contributions])
    b = np.array([row.sensitivity for row in second.contributions])
    return float(a @ first.covariance @ b) / (first.standard * second.standard)


def effective_dof(sensitivities: np.ndarray, covariance: np.ndarray, dofs: np.ndarray) -> float:
    """Return the Welch-Satterthwaite degrees of freedom, correlated rows taken together first."""
    variance = float(sensitivities @ covariance @ sensitivities)
    weight = 0.0
    for block in _blocks(covariance):
        c = sensitivities[block]
        part = float(c @ covariance[np.ix_(block, block)] @ c)
        smallest = float(np.min(dofs[block]))
        if part > 0 and math.isfinite(smallest):
            weight += (part / variance) ** 2 / smallest
    return math.inf if weight == 0 else 1 / weight


def _blocks(covariance: np.ndarray) -> list[list[int]]:
    """Return groups of rows that hang together through correlations."""
    left = list(range(covariance.shape[0]))
    blocks = []
    while left:
        block = [left.pop(0)]
        for member in block:
            joined = [row for row in left if covariance[member, row] != 0]
            block.extend(joined)
            left = [row for row in left if row not in joined]
        blocks.append(block)
    return blocks


def _t_factor(dof: float, confidence: float) -> float:
    share = 0.5 + confidence / 2
    if math.isinf(dof):
        return float(special.ndtri(share))
    return float(special.stdtrit(max(math.floor(dof + 1e-9), 1), share))


def _read_row(row: BudgetRow | Mapping[str, Any] | Sequence[Any], number: int) -> BudgetRow:
    if isinstance(row, BudgetRow):
        read = row
    elif isinstance(row, Mapping):
        unknown = sorted(set(row) - set(BudgetRow.__dataclass_fields__))
        if unknown or "standard" not in row:
            raise TrackerError(
                f"row {number}: {'unknown ' + ', '.join(unknown) if unknown else 'no standard uncertainty'}; "
                f"a row has {', '.join(BudgetRow.__dataclass_fields__)}"
            )
        read = BudgetRow(**{"name": f"row {number}", **row})
    elif isinstance(row, str) or not isinstance(row, Sequence | np.ndarray):
        raise TrackerError(f"row {number} is {row!r}; give estimate and standard uncertainty, as (0.0, 0.002)")
    else:
        fields = ("estimate", "standard", "sensitivity", "dof", "distribution")
        if not 2 <= len(row) <= len(fields):
            raise TrackerError(f"row {number} has {len(row)} entries; give 2 to 5: {', '.join(fields)}")
        read = BudgetRow(name=f"row {number}", **dict(zip(fields, row)))
    for what in ("estimate", "standard", "dof", *(["sensitivity"] if read.sensitivity is not None else [])):
        as_number(getattr(read, what), f"{read.name}, {what}")
    if not (math.isfinite(read.standard) and read.standard >= 0):
        raise TrackerError(f"{read.name}: standard uncertainty is {read.standard!r}; give a number of 0 or more")
    if not math.isfinite(read.estimate):
        raise TrackerError(f"{read.name}: the estimate is {read.estimate!r}; give a number")
    if not read.dof >= 1:
        raise TrackerError(f"{read.name}: degrees of freedom are {read.dof!r}; give 1 or more, or inf")
    if read.distribution not in DISTRIBUTIONS:
        raise TrackerError(f"{read.name}: distribution {read.distribution!r} is not one of {', '.join(DISTRIBUTIONS)}")
    return read


def _sensitivities(
    rows: Sequence[BudgetRow], estimates: np.ndarray, standards: np.ndarray, model: Model | None
) -> np.ndarray:
    found = []
    for k, row in enumerate(rows):
        if row.sensitivity is not None and model is None:
            found.append(float(row.sensitivity))
        elif model is None:
            raise TrackerError(f"{row.name}: no sensitivity and no model; give one of them")
        else:
            found.append(_slope(model, estimates, k, standards[k]))
    sensitivities = np.array(found)
    if not np.all(np.isfinite(sensitivities)):
        raise TrackerError("the model cannot be computed about the estimates; check it and the estimates")
    return sensitivities


def _slope(model: Model, estimates: np.ndarray, k: int, standard: float) -> float:
    """Return the slope of the model by central differences with one step of Richardson's extrapolation."""
    step = 0.5 * standard if standard > 0 else 1e-4 * max(abs(float(estimates[k])), 1.0)

    def difference(h: float) -> float:
        up, down = estimates.copy(), estimates.copy()
        up[k] += h
        down[k] -= h
        return (float(model(up)) - float(model(down))) / float(up[k] - down[k])

    return (4 * difference(step / 2) - difference(step)) / 3


def _correlation_matrix(
    correlation: np.ndarray | Mapping[tuple[str, str], float] | None, names: list[str]
) -> np.ndarray:
    matrix = np.eye(len(names))
    if isinstance(correlation, Mapping):
        for (first, second), r in correlation.items():
            missing = [name for name in (first, second) if name not in names]
            if missing:
                raise TrackerError(f"correlation names {missing[0]!r}, which is no row; rows are {', '.join(names)}")
            i, j = names.index(first), names.index(second)
            matrix[i, j] = matrix[j, i] = r
    elif correlation is not None:
        matrix = np.array(correlation, dtype=float)
        if matrix.shape != (len(names), len(names)):
            raise TrackerError(f"correlation has shape {matrix.shape}; {len(names)} rows want a square of that size")
    symmetric = np.allclose(matrix, matrix.T) and np.allclose(np.diag(matrix), 1.0)
    if not symmetric or np.min(np.linalg.eigvalsh(matrix)) < -1e-9:
        raise TrackerError("the correlations contradict one another: give a symmetric matrix with 1 on the diagonal")
    return matrix
