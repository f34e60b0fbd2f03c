"""Where limits come from: ISO 286, ANSI B4.1, dowel pins, shop rules and allowances."""

from tracker.limits.ansi_b4_1 import limits_ansi
from tracker.limits.dowels import dowel_fit, dowel_pin
from tracker.limits.iso286 import fit_iso, limits_iso, tolerance_iso
from tracker.limits.shop_rules import (
    ClearanceHole,
    ShopSize,
    clearance_hole,
    plating_allowance,
    shop_hole,
    shop_interference,
)
from tracker.limits.zones import FitLimits, Limits

__all__ = [
    "ClearanceHole",
    "FitLimits",
    "Limits",
    "ShopSize",
    "clearance_hole",
    "dowel_fit",
    "dowel_pin",
    "fit_iso",
    "limits_ansi",
    "limits_iso",
    "plating_allowance",
    "shop_hole",
    "shop_interference",
    "tolerance_iso",
]
