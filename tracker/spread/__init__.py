"""Sizes and their spread: summary, components, normality, tolerance, prediction, capability, go / no-go."""

from tracker.spread.censored import IntervalFit, interval_fit
from tracker.spread.gathered import RULES
from tracker.spread.gaussianity import Normality, normality
from tracker.spread.grouped import GroupedSums, grouped_sums, merge_sums, pool_sums
from tracker.spread.many import BatchCapabilities, BatchSpreads, batch_capabilities, batch_spreads
from tracker.spread.operators import OperatorSpread, operator_spread
from tracker.spread.outlying import Outliers, outliers
from tracker.spread.piecewise import PieceSizes, piece_sizes
from tracker.spread.prediction import Prediction, predict
from tracker.spread.process import Capability, capability
from tracker.spread.sizing import SizeLimits, Sizes, size_limits, sizes
from tracker.spread.summary import Summary, summarize
from tracker.spread.tolerance import ToleranceInterval, tolerance_factor, tolerance_interval
from tracker.spread.variance import Components, components

__all__ = [
    "RULES",
    "BatchCapabilities",
    "BatchSpreads",
    "Capability",
    "Components",
    "GroupedSums",
    "IntervalFit",
    "Normality",
    "OperatorSpread",
    "Outliers",
    "PieceSizes",
    "Prediction",
    "SizeLimits",
    "Sizes",
    "Summary",
    "ToleranceInterval",
    "batch_capabilities",
    "batch_spreads",
    "capability",
    "components",
    "grouped_sums",
    "interval_fit",
    "merge_sums",
    "normality",
    "operator_spread",
    "outliers",
    "piece_sizes",
    "pool_sums",
    "predict",
    "size_limits",
    "sizes",
    "summarize",
    "tolerance_factor",
    "tolerance_interval",
]
