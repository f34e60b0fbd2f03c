"""The measured pieces of an assembly as plain tables: a row a piece, a column a fit or closure they must meet."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from tracker.decide.words import listed
from tracker.judge.answers import FeatureCheck, LeftOver
from tracker.judge.operators import doubt_from_operators
from tracker.judge.parts import Assembly, Demand
from tracker.judge.words import plain_name

if TYPE_CHECKING:
    from tracker.spread import Sizes

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One part: labels of its pieces, and for every demand what they bring to the gap, with its uncertainty.

    ``size`` and ``uncertainty`` have shape (pieces, demands); ``common`` (demands,) moves all pieces together,
    ``operators`` (demands,) is the part of it that comes from operators who read apart.
    ``features`` are its features, ``missing`` the pieces that lack a reading of one of them.
    """

    features: tuple[str, ...]
    piece: tuple[str, ...]
    size: Floats
    uncertainty: Floats
    common: Floats
    operators: Floats
    missing: tuple[LeftOver, ...]

    def __len__(self) -> int:
        return len(self.piece)


def tables_of(assembly: Assembly, features: Mapping[str, FeatureCheck]) -> tuple[Table, Table]:
    """Return the inner and the outer part of an assembly, pieces in order of making.

    A piece counts when every feature of its part has a size; the others are ``missing``.
    """
    inner, outer = (_table(assembly, side, features) for side in ("inner", "outer"))
    return inner, outer


def _table(assembly: Assembly, side: str, features: Mapping[str, FeatureCheck]) -> Table:
    names = assembly.features(side)
    found = {name: _sizes(features, name) for name in names}
    places = {name: {piece: index for index, piece in enumerate(sizes.piece)} for name, sizes in found.items()}
    every = dict.fromkeys(piece for sizes in found.values() for piece in sizes.piece)
    pieces = [piece for piece in every if all(piece in place for place in places.values())]
    rows = {name: np.array([places[name][piece] for piece in pieces], dtype=np.int64) for name in names}
    size = np.zeros((len(pieces), len(assembly.demands)))
    variance, common = np.zeros_like(size), np.zeros(len(assembly.demands))
    operators = [doubt_from_operators(features, getattr(demand, side)) for demand in assembly.demands]
    for column, demand in enumerate(assembly.demands):
        terms: Mapping[str, float] = getattr(demand, side)
        for name, factor in terms.items():
            size[:, column] += factor * found[name].size[rows[name]]
            variance[:, column] += (factor * found[name].uncertainty[rows[name]]) ** 2
            common[column] = math.hypot(common[column], factor * found[name].common_uncertainty)
    return Table(
        features=names,
        piece=tuple(pieces),
        size=size,
        uncertainty=np.sqrt(variance),
        common=common,
        operators=np.array(operators),
        missing=tuple(_missing(every, places, names)),
    )


def _sizes(features: Mapping[str, FeatureCheck], name: str) -> Sizes:
    found = features[name].sizes
    assert found is not None  # an assembly holds measured features only
    return found


def _missing(
    every: Mapping[str, None], places: Mapping[str, Mapping[str, int]], names: tuple[str, ...]
) -> list[LeftOver]:
    found = []
    for piece in every:
        lacks = [plain_name(name) for name in names if piece not in places[name]]
        if lacks:
            found.append(LeftOver(feature=names[0], piece=piece, why=f"no reading of its {listed(lacks)}"))
    return found


def dimension(demand: Demand, side: str) -> tuple[str, float]:
    """Return what a demand's dimension on a side is called, and how it stands in the gap (its factor).

    A sum of several features is called by them, with the factor 1.
    """
    terms: Mapping[str, float] = getattr(demand, side)
    if len(terms) == 1:
        ((name, factor),) = terms.items()
        return plain_name(name), factor
    if not terms:
        return f"its part of {plain_name(demand.name)}", 1.0
    words = " ".join(
        f"{'-' if factor < 0 else '+'} {'' if abs(factor) == 1 else f'{abs(factor):g} x '}{plain_name(name)}"
        for name, factor in terms.items()
    )
    return words.removeprefix("+ "), 1.0
