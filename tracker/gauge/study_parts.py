"""The variances of a balanced crossed study as sums of mean squares."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from tracker.gauge.crossed import Cells, Squares, squares_of
from tracker.result import Result
from tracker.spread.arguments import Array
from tracker.spread.mean_squares import Term, chi_square_reach, combine, combined_interval, generalised_interval


@dataclass(frozen=True, slots=True, kw_only=True)
class AnovaRow(Result):
    """One line of the analysis of variance; ``f`` and ``p_value`` are None where nothing is tested."""

    source: str
    sum_of_squares: float
    dof: int
    mean_square: float
    f: float | None = None
    p_value: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """Variances with their intervals, by name, and how they were found.

    ``share_interval`` is that of the gauge's variance over the total variance.
    """

    estimate: dict[str, float]
    interval: dict[str, tuple[float, float]]
    share_interval: tuple[float, float]
    raw: dict[str, float]
    anova: tuple[AnovaRow, ...]
    pooled: bool
    interaction_p: float | None
    method: str
    remarks: tuple[str, ...]


def by_anova(cells: Cells, confidence: float, pool_above: float) -> Parts:
    """Return the parts by analysis of variance."""
    squares = squares_of(cells)
    table, f_p = anova_table(squares)
    single = squares.error_dof == 0
    no_interaction = squares.operators == 1 or single
    pooled = not no_interaction and f_p is not None and f_p > pool_above
    terms = terms_of(squares, without_interaction=pooled or no_interaction)
    raw = {name: combine(term) for name, term in terms.items()}
    remarks = []
    if pooled and f_p is not None:
        remarks.append(pooled_remark(f_p))
    if single:
        remarks.append("Each operator read each piece once, so repeatability holds any interaction too.")
    if squares.operators == 1:
        remarks.append("One operator: nothing is known of reproducibility.")
    elif squares.operators < 5:
        remarks.append(f"{squares.operators} operators say little of operators in general.")
    remarks += negative_remarks(raw)
    return Parts(
        estimate={name: max(variance, 0.0) for name, variance in raw.items()} | sums_of(raw),
        interval=intervals_of(terms, squares, confidence),
        share_interval=share_interval(terms["gauge"], terms["piece"], confidence),
        raw=raw,
        anova=table,
        pooled=pooled,
        interaction_p=f_p,
        method="analysis of variance",
        remarks=tuple(remarks),
    )


def anova_table(s: Squares) -> tuple[tuple[AnovaRow, ...], float | None]:
    """Return the table with the interaction kept, and the p-value of the interaction."""
    p_dof, o_dof, i_dof, e_dof = s.pieces - 1, s.operators - 1, s.interaction_dof, s.error_dof
    ms = [
        square / dof if dof else 0.0
        for square, dof in zip((s.piece, s.operator, s.interaction, s.error), (p_dof, o_dof, i_dof, e_dof))
    ]
    below, below_dof = (ms[2], i_dof) if i_dof else (ms[3], e_dof)
    tests: list[tuple[float | None, float | None]] = [(None, None)] * 3
    tests[0] = f_test(ms[0], p_dof, below, below_dof)
    if o_dof:
        tests[1] = f_test(ms[1], o_dof, below, below_dof)
    if i_dof and e_dof:
        tests[2] = f_test(ms[2], i_dof, ms[3], e_dof)
    rows = [_row("piece", s.piece, p_dof, ms[0], tests[0])]
    if o_dof:
        rows.append(_row("operator", s.operator, o_dof, ms[1], tests[1]))
        rows.append(_row("interaction", s.interaction, i_dof, ms[2], tests[2]))
    if e_dof:
        rows.append(AnovaRow(source="repeatability", sum_of_squares=s.error, dof=e_dof, mean_square=ms[3]))
    return tuple(rows), tests[2][1]


def _row(
    source: str, squares: float, dof: int, mean_square: float, test: tuple[float | None, float | None]
) -> AnovaRow:
    return AnovaRow(source=source, sum_of_squares=squares, dof=dof, mean_square=mean_square, f=test[0], p_value=test[1])


def terms_of(s: Squares, *, without_interaction: bool) -> dict[str, list[Term]]:
    """Return every variance as a sum of mean squares."""
    p, o, r = s.pieces, s.operators, s.repeats
    piece_ms = s.piece / (p - 1)
    if o == 1:
        error = Term(weight=1.0, mean_square=s.error / s.error_dof, dof=s.error_dof, source="repeatability")
        top = Term(weight=1 / r, mean_square=piece_ms, dof=p - 1, source="piece")
        return {
            "repeatability": [error],
            "gauge": [error],
            "piece": [top, _scaled(error, -1 / r)],
            "total": [top, _scaled(error, 1 - 1 / r)],
        }
    operator_ms = s.operator / (o - 1)
    top = Term(weight=1 / (o * r), mean_square=piece_ms, dof=p - 1, source="piece")
    who = Term(weight=1 / (p * r), mean_square=operator_ms, dof=o - 1, source="operator")
    if without_interaction:
        dof = s.interaction_dof + s.error_dof
        error = Term(weight=1.0, mean_square=(s.interaction + s.error) / dof, dof=dof, source="repeatability")
        operator = [who, _scaled(error, -1 / (p * r))]
        return {
            "repeatability": [error],
            "operator": operator,
            "reproducibility": operator,
            "gauge": [who, _scaled(error, 1 - 1 / (p * r))],
            "piece": [top, _scaled(error, -1 / (o * r))],
            "total": [top, who, _scaled(error, 1 - 1 / (o * r) - 1 / (p * r))],
        }
    error = Term(weight=1.0, mean_square=s.error / s.error_dof, dof=s.error_dof, source="repeatability")
    mixed_ms = s.interaction / s.interaction_dof
    mixed = Term(weight=1.0, mean_square=mixed_ms, dof=s.interaction_dof, source="interaction")
    return {
        "repeatability": [error],
        "operator": [who, _scaled(mixed, -1 / (p * r))],
        "interaction": [_scaled(mixed, 1 / r), _scaled(error, -1 / r)],
        "reproducibility": [who, _scaled(mixed, (p - 1) / (p * r)), _scaled(error, -1 / r)],
        "gauge": [who, _scaled(mixed, (p - 1) / (p * r)), _scaled(error, 1 - 1 / r)],
        "piece": [top, _scaled(mixed, -1 / (o * r))],
        "total": [top, who, _scaled(mixed, 1 / r - 1 / (o * r) - 1 / (p * r)), _scaled(error, 1 - 1 / r)],
    }


def _scaled(term: Term, weight: float) -> Term:
    return replace(term, weight=weight)


def intervals_of(terms: dict[str, list[Term]], squares: Squares, confidence: float) -> dict[str, tuple[float, float]]:
    """Return the interval of every variance.

    That of repeatability rests on the repeats alone, also where the interaction was pooled into its estimate: pooling
    happens just where the interaction came out small, and an interval of the pooled mean square covers as little as
    92 %.
    """
    found = {name: combined_interval(term, confidence) for name, term in terms.items()}
    if squares.error_dof > 0:
        found["repeatability"] = chi_square_reach(squares.error / squares.error_dof, squares.error_dof, confidence)
    return found


def share_interval(gauge: list[Term], piece: list[Term], confidence: float) -> tuple[float, float]:
    """Return the generalised interval of the gauge's variance over that of gauge and pieces."""

    def share(true: Mapping[str, Array]) -> Array:
        ours, theirs = (
            np.maximum(sum(term.weight * true[term.source] for term in terms), 0.0) for terms in (gauge, piece)
        )
        whole = ours + theirs
        return np.asarray(np.divide(ours, whole, out=np.ones_like(whole), where=whole > 0))

    return generalised_interval([*gauge, *piece], share, confidence)


def f_test(top: float, top_dof: int, below: float, below_dof: int) -> tuple[float, float]:
    """Return F and its p-value; equal readings throughout give F 0."""
    if below == 0:
        return (math.inf, 0.0) if top > 0 else (0.0, 1.0)
    f = top / below
    return f, float(special.fdtrc(top_dof, below_dof, f))


def sums_of(raw: dict[str, float]) -> dict[str, float]:
    """Return reproducibility, gauge and total as sums of components that were cut at zero."""
    kept = {name: max(raw.get(name, 0.0), 0.0) for name in ("repeatability", "operator", "interaction", "piece")}
    reproducibility = kept["operator"] + kept["interaction"]
    gauge = kept["repeatability"] + reproducibility
    sums = {"gauge": gauge, "total": gauge + kept["piece"]}
    return sums | ({"reproducibility": reproducibility} if "operator" in raw else {})


def negative_remarks(raw: dict[str, float]) -> list[str]:
    """Say which variances came out negative."""
    named = [name for name in ("operator", "interaction", "piece") if raw.get(name, 0.0) < 0]
    return [f"The {name} variance came out negative and is reported as 0." for name in named]


def pooled_remark(p_value: float) -> str:
    """Say that the interaction was pooled."""
    return f"Operators and pieces do not interact visibly (p = {p_value:.2g}): pooled into repeatability."
