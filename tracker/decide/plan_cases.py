"""From the arguments of a plan to the case it is worked out from: every gap with its sides, aim and costs."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from tracker.decide.demands import Aim, Case, Demand, Side
from tracker.decide.prices import KEYS, SIDES, Prices, prices
from tracker.errors import NotEnoughData, TrackerError
from tracker.fit.batch_spread import given_readings
from tracker.fit.checks import (
    Floats,
    limits_of,
    not_negative,
    per_closure,
    round_off,
    sizes_of,
    table_of,
    table_uncertainties,
    uncertainties,
)
from tracker.given import finite_number, numbers, said, whole_number

SizeLimits = tuple[float | None, float | None]
OPEN: SizeLimits = (None, None)


def case_of(
    internal: npt.ArrayLike,
    external: npt.ArrayLike,
    gap_lower: Any,
    gap_upper: Any,
    costs: Mapping[str, Any] | None,
    *,
    wanted: int | None,
    target: Any,
    uncertainty: Any,
    common_uncertainty: Any,
    rework_sd: Mapping[str, Any] | None,
    make_sd: Mapping[str, Any] | None,
    increment: Any,
    least_cut: Any,
    step: Any,
    times: Mapping[str, Any] | None,
    reworkable: Sequence[tuple[bool, bool]] | None = None,
    keep: Sequence[tuple[SizeLimits, SizeLimits]] | None = None,
) -> Case:
    """Return the case of a plan; arguments as `tracker.decide.plan` takes them.

    Raises
    ------
    NotEnoughData
        A side without a piece, or an open limit and no target.
    TrackerError
        Costs that make no sense, a shape that does not fit, limits the wrong way round.
    """
    internal, external = numbers(internal, "internal"), numbers(external, "external")
    several = internal.ndim == 2 or external.ndim == 2
    gaps = int(internal.shape[-1]) if several else 1
    for word, given in (("rework_sd", rework_sd), ("make_sd", make_sd)):
        if given is not None and not isinstance(given, Mapping):
            raise TrackerError(f"{word}: found {said(given)}; give a mapping from internal and external to a number")
    inside, outside, noise = _sides(internal, external, uncertainty, gaps, several)
    price, rework = _priced(costs, gaps)
    minutes, rework_minutes = (None, [{}] * gaps) if times is None else _priced(times, gaps)

    def each(value: Any, name: str) -> list[Any]:
        return per_closure(value, gaps, name)

    lows, highs, targets = each(gap_lower, "gap_lower"), each(gap_upper, "gap_upper"), each(target, "target")
    common, steps, least = (
        each(common_uncertainty, "common_uncertainty"),
        each(increment, "increment"),
        each(least_cut, "least_cut"),
    )
    finest = each(step, "step")
    keeps = [(OPEN, OPEN)] * gaps if keep is None else list(keep)
    able = [(True, True)] * gaps if reworkable is None else list(reworkable)
    demands = []
    for k in range(gaps):
        low, high = limits_of(lows[k], highs[k])
        demands.append(
            Demand(
                internal=_side("internal", k, inside[:, k], noise[0][:, k], rework_sd, make_sd, gaps, keeps[k][0]),
                external=_side("external", k, outside[:, k], noise[1][:, k], rework_sd, make_sd, gaps, keeps[k][1]),
                aim=Aim(
                    low=low,
                    high=high,
                    gap=_aim_gap(low, high, targets[k]),
                    common=not_negative(common[k], "common_uncertainty"),
                    increment=None if steps[k] is None else finite_number(steps[k], "increment", above=0),
                    least_cut=max(not_negative(least[k], "least_cut"), not_negative(finest[k], "step") / 2),
                    near=round_off(inside[:, k], outside[:, k]),
                ),
                rework={side: cost for side, cost in rework[k].items() if able[k][SIDES.index(side)]},
                minutes=rework_minutes[k],
            )
        )
    number = min(len(inside), len(outside)) if wanted is None else whole_number(wanted, "wanted", 0)
    return Case(demands=tuple(demands), price=price, minutes=minutes, wanted=number, step=step)


def _sides(
    internal: npt.ArrayLike, external: npt.ArrayLike, uncertainty: Any, gaps: int, several: bool
) -> tuple[Floats, Floats, tuple[Floats, Floats]]:
    """Return both sides and their uncertainties as tables of pieces x gaps."""
    if several:
        inside, outside = table_of(internal, "internal", gaps), table_of(external, "external", gaps)
        return inside, outside, table_uncertainties(uncertainty, inside.shape, outside.shape)
    lone = sizes_of(internal, "internal"), sizes_of(external, "external")
    noise = uncertainties(uncertainty, lone[0].size, lone[1].size)
    return lone[0][:, None], lone[1][:, None], (noise[0][:, None], noise[1][:, None])


def _priced(costs: Mapping[str, Any] | None, gaps: int) -> tuple[Prices, list[dict[str, float]]]:
    """Return the costs as one price list (rework at its least), and the sides that each gap can be reworked on."""
    if costs is not None and not isinstance(costs, Mapping):
        raise TrackerError(f"costs (or times): found {said(costs)}; give a mapping with any of {', '.join(KEYS)}")
    stated = dict(costs or {})
    rework = stated.get("rework")
    if not isinstance(rework, Mapping):
        price = prices(costs)
        return price, [price.rework] * gaps
    by_gap: list[dict[str, float]] = [{} for _ in range(gaps)]
    for side, cost in rework.items():
        for own, one in zip(by_gap, per_closure(cost, gaps, f"costs.rework.{side}")):
            if one is not None:
                own[side] = one
    for own in by_gap:
        prices({"rework": own})  # refuses a side or a cost that makes no sense
    least = {
        side: min(own[side] for own in by_gap if side in own) for side in rework if any(side in own for own in by_gap)
    }
    sides: dict[str, float | None] = {side: least.get(side) for side in SIDES}
    price = prices({**stated, "rework": sides})
    return price, by_gap


def _aim_gap(low: float, high: float, target: float | None) -> float:
    if target is not None:
        return finite_number(target, "target")
    if math.isinf(low) or math.isinf(high):
        raise NotEnoughData(
            "a gap limit is open and no target gap is given, so it is not known what to cut to; give target"
        )
    return (low + high) / 2


def _side(
    name: str,
    gap: int,
    sizes: Floats,
    noise: Floats,
    rework_sd: Mapping[str, Any] | None,
    make_sd: Mapping[str, Any] | None,
    gaps: int,
    keep: SizeLimits,
) -> Side:
    least, most = limits_of(*keep)
    true, true_sd = given_readings(sizes, noise)
    batch = None
    if sizes.size >= 2:
        read = float(np.mean(noise**2))
        batch = math.sqrt(max(float(np.var(sizes, ddof=1)) - read, read))  # no nearer to its aim than it can be read
    made = per_closure((make_sd or {}).get(name), gaps, f"make_sd.{name}")[gap]
    made = batch if made is None else made
    reworked = per_closure((rework_sd or {}).get(name), gaps, f"rework_sd.{name}")[gap]
    if reworked is None and made is not None:
        reworked = max(made, math.sqrt(float(np.mean(noise**2))))
    for word, value in (("make_sd", made), ("rework_sd", reworked)):
        if value is not None:
            not_negative(value, f"{word}[{name!r}]")
    return Side(
        name=name,
        read=sizes,
        noise=np.asarray(noise, dtype=float),
        true=np.asarray(true, dtype=float),
        true_sd=np.asarray(true_sd, dtype=float),
        rework_sd=reworked,
        make_sd=made,
        least=least,
        most=most,
    )


def labels_of(
    labels: tuple[Sequence[object], Sequence[object]] | None, m: int, n: int
) -> tuple[Sequence[object], Sequence[object]]:
    """Return the pieces' own numbers; 1, 2, 3... when none are given.

    Raises
    ------
    TrackerError
        If there are not as many as pieces.
    """
    if labels is None:
        return tuple(range(1, m + 1)), tuple(range(1, n + 1))
    for name, given, pieces in zip(SIDES, labels, (m, n)):
        if len(given) != pieces:
            raise TrackerError(f"labels name {len(given)} {name} pieces and there are {pieces}; give one each")
    return labels
