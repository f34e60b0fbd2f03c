"""What to do about it: shift the next cut, the cheapest plan, the verdict."""

from tracker.decide.machine import Convention, convention, machine_offset, part_change
from tracker.decide.shifting import Shift, economic_aim, next_shift
from tracker.decide.verdicts import Verdict, verdict

__all__ = [
    "Convention",
    "Shift",
    "Verdict",
    "convention",
    "economic_aim",
    "machine_offset",
    "next_shift",
    "part_change",
    "verdict",
]
