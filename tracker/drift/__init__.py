"""Drift in the order of making: charts, signals and wear."""

from tracker.drift.wear import WearBand, WearLine, WearRun, wear_line

__all__ = ["WearBand", "WearLine", "WearRun", "wear_line"]
