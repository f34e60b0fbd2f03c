"""Will it go together: closures, chances, pairing, classes, targets, seating and pressing."""

from tracker.fit.chances import Chance, chance_any
from tracker.fit.pairing import Pairing, pair
from tracker.fit.pressing import press_fit
from tracker.fit.seating import corner_seat, seat

__all__ = ["Chance", "Pairing", "chance_any", "corner_seat", "pair", "press_fit", "seat"]
