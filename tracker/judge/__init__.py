"""A whole job judged: readings in, `Check` out, and the words that say it."""

from tracker.judge.answers import (
    Check,
    ClosureCheck,
    FeatureCheck,
    FitCheck,
    LeftOver,
    PairRow,
    ReadingsCount,
)
from tracker.judge.assembly import check, fingerprint
from tracker.judge.text import check_lines
from tracker.judge.words import Scale, plain_name

__all__ = [
    "Check",
    "ClosureCheck",
    "FeatureCheck",
    "FitCheck",
    "LeftOver",
    "PairRow",
    "ReadingsCount",
    "Scale",
    "check",
    "check_lines",
    "fingerprint",
    "plain_name",
]
