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
from tracker.gauge.trials import MonteCarlo

__all__ = [
    "Budget",
    "BudgetRow",
    "Conformance",
    "Contribution",
    "GuardedLimits",
    "MonteCarlo",
    "chance_within",
    "conformance",
    "guard_band",
    "half_width_row",
    "result_correlation",
    "uncertainty_budget",
]
