"""Drift in the order of making: charts, signals and wear."""

from tracker.drift.chart import Baseline, Chart
from tracker.drift.constants import ChartConstants, chart_constants
from tracker.drift.shewhart import (
    deviation_chart,
    individuals_chart,
    mean_range_chart,
    mean_sd_chart,
    standardised_chart,
)
from tracker.drift.signals import ALL_SIGNALS, HANDBOOK_SIGNALS, Signal, find_signals, signal_chance
from tracker.drift.wear import WearBand, WearLine, WearRun, wear_line

__all__ = [
    "ALL_SIGNALS",
    "HANDBOOK_SIGNALS",
    "Baseline",
    "Chart",
    "ChartConstants",
    "Signal",
    "WearBand",
    "WearLine",
    "WearRun",
    "chart_constants",
    "deviation_chart",
    "find_signals",
    "individuals_chart",
    "mean_range_chart",
    "mean_sd_chart",
    "signal_chance",
    "standardised_chart",
    "wear_line",
]
