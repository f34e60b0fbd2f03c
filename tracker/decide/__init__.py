"""What to do about it: shift the next cut, the cheapest plan, the verdict."""

from tracker.cuts import Convention, convention
from tracker.decide.alternatives import Alternative
from tracker.decide.bounded import BoundedAdjustment, bounded_adjustment
from tracker.decide.machine import machine_offset, part_change
from tracker.decide.plan_results import Plan, PlanPair, ToMake
from tracker.decide.plans import plan
from tracker.decide.prices import Prices, prices
from tracker.decide.remaking import PiecesToMake, pieces_to_make
from tracker.decide.shifting import Shift, economic_aim, next_shift
from tracker.decide.verdicts import Verdict, verdict

__all__ = [
    "Alternative",
    "BoundedAdjustment",
    "Convention",
    "PiecesToMake",
    "Plan",
    "PlanPair",
    "Prices",
    "Shift",
    "ToMake",
    "Verdict",
    "bounded_adjustment",
    "convention",
    "economic_aim",
    "machine_offset",
    "next_shift",
    "part_change",
    "pieces_to_make",
    "plan",
    "prices",
    "verdict",
]
