"""Will it go together: closures, chances, pairing, classes, targets, seating and pressing.

Each name is loaded on first use: seating and pressing are asked for alone, and need no statistics.
"""

from typing import TYPE_CHECKING

from tracker.handing import on_first_use

if TYPE_CHECKING:
    from tracker.fit.chances import Chance, chance_any
    from tracker.fit.closures import Closure, Contribution, closure
    from tracker.fit.drawing import DrawnChance, chance_drawn
    from tracker.fit.making import Unmade, unmade
    from tracker.fit.pairing import Pairing, pair
    from tracker.fit.pressing import press_fit
    from tracker.fit.seating import corner_seat, seat
    from tracker.fit.selection import Classes, class_shares, classes, expected_matches, matched_fraction
    from tracker.fit.targets import Target, best_target

__all__ = [
    "Chance",
    "Classes",
    "Closure",
    "Contribution",
    "DrawnChance",
    "Pairing",
    "Target",
    "Unmade",
    "best_target",
    "chance_any",
    "chance_drawn",
    "class_shares",
    "classes",
    "closure",
    "corner_seat",
    "expected_matches",
    "matched_fraction",
    "pair",
    "press_fit",
    "seat",
    "unmade",
]

__getattr__ = on_first_use(
    "tracker.fit",
    {
        "tracker.fit.chances": "Chance chance_any",
        "tracker.fit.closures": "Closure Contribution closure",
        "tracker.fit.drawing": "DrawnChance chance_drawn",
        "tracker.fit.making": "Unmade unmade",
        "tracker.fit.pairing": "Pairing pair",
        "tracker.fit.pressing": "press_fit",
        "tracker.fit.seating": "corner_seat seat",
        "tracker.fit.selection": "Classes class_shares classes expected_matches matched_fraction",
        "tracker.fit.targets": "Target best_target",
    },
)
