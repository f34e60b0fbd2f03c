"""Gauges: studies, uncertainty, and what they do to parts near a limit."""

from tracker.gauge.acceptance import Conformance, GuardedLimits, chance_within, conformance, guard_band
from tracker.gauge.budget import (
    Budget,
    BudgetRow,
    Contribution,
    half_width_row,
    result_correlation,
    uncertainty_budget,
)
from tracker.gauge.go_no_go import Appraiser, GoNoGoStudy, OperatorPair, go_no_go_study
from tracker.gauge.master import BiasStudy, LinearityStudy, MasterBias, bias_study, linearity_study
from tracker.gauge.repeatability import RepeatabilityStudy, repeatability_study
from tracker.gauge.risk import GlobalRisk, global_risk
from tracker.gauge.steps import Resolution, resolution_check
from tracker.gauge.study_parts import AnovaRow
from tracker.gauge.trials import MonteCarlo

__all__ = [
    "AnovaRow",
    "Appraiser",
    "BiasStudy",
    "Budget",
    "BudgetRow",
    "Conformance",
    "Contribution",
    "GlobalRisk",
    "GoNoGoStudy",
    "GuardedLimits",
    "LinearityStudy",
    "MasterBias",
    "MonteCarlo",
    "OperatorPair",
    "RepeatabilityStudy",
    "Resolution",
    "bias_study",
    "chance_within",
    "conformance",
    "global_risk",
    "go_no_go_study",
    "guard_band",
    "half_width_row",
    "linearity_study",
    "repeatability_study",
    "resolution_check",
    "result_correlation",
    "uncertainty_budget",
]
