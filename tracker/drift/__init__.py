"""Drift in the order of making: charts, signals and wear."""

from tracker.drift.breaks import Departure
from tracker.drift.chart import Baseline, Chart
from tracker.drift.constants import ChartConstants, chart_constants
from tracker.drift.run_length import (
    FalseAlarms,
    cusum_run_length,
    ewma_run_length,
    false_alarms,
    shewhart_run_length,
)
from tracker.drift.shewhart import (
    deviation_chart,
    individuals_chart,
    mean_range_chart,
    mean_sd_chart,
    stability_chart,
    standardised_chart,
)
from tracker.drift.signals import ALL_SIGNALS, HANDBOOK_SIGNALS, Signal, find_signals, signal_chance
from tracker.drift.sums import cusum_chart, ewma_chart
from tracker.drift.watching import Watched, watch_runs
from tracker.drift.wear import wear_line
from tracker.drift.wear_results import WearBand, WearLine, WearRun
from tracker.drift.worn import WornCapability, wear_chart, worn_capability

__all__ = [
    "ALL_SIGNALS",
    "HANDBOOK_SIGNALS",
    "Baseline",
    "Chart",
    "ChartConstants",
    "Departure",
    "FalseAlarms",
    "Signal",
    "Watched",
    "WearBand",
    "WearLine",
    "WearRun",
    "WornCapability",
    "chart_constants",
    "cusum_chart",
    "cusum_run_length",
    "deviation_chart",
    "ewma_chart",
    "ewma_run_length",
    "false_alarms",
    "find_signals",
    "individuals_chart",
    "mean_range_chart",
    "mean_sd_chart",
    "shewhart_run_length",
    "signal_chance",
    "stability_chart",
    "standardised_chart",
    "watch_runs",
    "wear_chart",
    "wear_line",
    "worn_capability",
]
