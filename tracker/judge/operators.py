"""Operators who read the same pieces differently: the remark on it, and what would help."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

from tracker.decide.words import share
from tracker.judge.answers import FeatureCheck
from tracker.judge.words import Scale, plain_name

if TYPE_CHECKING:
    from tracker.spread import OperatorSpread

SURELY_APART = 0.01
"""Operators who all read alike are remarked on in one batch of a hundred."""

AGREE = (
    "a master that all of them read shows who is off; then agree on one feel and one way of holding, or let one"
    " operator measure. More repeats do not take it away"
)


def operator_remarks(features: Mapping[str, FeatureCheck], unit: str) -> tuple[str, ...]:
    """Return a remark for each feature whose operators surely read apart."""
    words = []
    for name, feature in features.items():
        found = None if feature.sizes is None else feature.sizes.operators
        if found is not None and found.p_value < SURELY_APART and found.operator_sd > 0:
            words.append(f"{plain_name(name)}: {_apart(found, Scale(unit, feature.step))}; {AGREE}")
    return tuple(words)


def doubt_from_operators(features: Mapping[str, FeatureCheck], terms: Mapping[str, float]) -> float:
    """Return the standard uncertainty that operators who read apart leave in every sum of ``terms``."""
    every = [(factor, features[name].sizes) for name, factor in terms.items()]
    return math.hypot(
        *(factor * found.operators.common for factor, found in every if found is not None and found.operators)
    )


def _apart(found: OperatorSpread, scale: Scale) -> str:
    level = dict(zip(found.level, found.operators))
    large, small = (name or "readings without a name" for name in (level[max(level)], level[min(level)]))
    return (
        f"operators read the same pieces up to {scale.off(found.apart, signed=False)} {scale.small} apart ({large}"
        f" larger than {small}; operators who read alike come out so far apart in {share(found.p_value)} of batches)."
        f" That leaves {scale.off(found.common, signed=False)} {scale.small} of doubt (standard) in all sizes alike,"
        " and it is counted"
    )
