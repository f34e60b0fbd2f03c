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
from tracker.judge.assembly import check, fingerprint, readings_of
from tracker.judge.gauges import GaugeCheck, judge_gauge
from tracker.judge.single_text import gauge_lines, pair_lines, shift_lines, wear_lines
from tracker.judge.text import check_lines, feature_lines, fit_lines, wear_verdict
from tracker.judge.words import Scale, plain_name

__all__ = [
    "Check",
    "ClosureCheck",
    "FeatureCheck",
    "FitCheck",
    "GaugeCheck",
    "LeftOver",
    "PairRow",
    "ReadingsCount",
    "Scale",
    "check",
    "check_lines",
    "feature_lines",
    "fingerprint",
    "fit_lines",
    "gauge_lines",
    "judge_gauge",
    "pair_lines",
    "plain_name",
    "readings_of",
    "shift_lines",
    "wear_lines",
    "wear_verdict",
]
