"""Where limits come from: ISO 286, ANSI B4.1, dowel pins, shop rules and allowances."""

from tracker.limits.ansi_b4_1 import limits_ansi
from tracker.limits.iso286 import fit_iso, limits_iso, tolerance_iso
from tracker.limits.zones import FitLimits, Limits

__all__ = ["FitLimits", "Limits", "fit_iso", "limits_ansi", "limits_iso", "tolerance_iso"]
