"""Will it go together: closures, chances, pairing, classes, targets, seating and pressing."""

from tracker.fit.chances import Chance, chance_any
from tracker.fit.pairing import Pairing, pair

__all__ = ["Chance", "Pairing", "chance_any", "pair"]
