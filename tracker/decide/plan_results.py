"""What a plan says: its pairs, what is cut on them, how many new pieces to make, and what all of it costs."""

from __future__ import annotations

from dataclasses import dataclass

from tracker.decide.alternatives import Alternative
from tracker.decide.edges import NEW_BOTH, NEW_EXTERNAL, NEW_INTERNAL
from tracker.decide.prices import Prices
from tracker.decide.remaking import PiecesToMake
from tracker.decide.words import count, number_word, share
from tracker.result import Result

NEW_PIECES = {NEW_EXTERNAL: 1, NEW_INTERNAL: 1, NEW_BOTH: 2}
REWORK_BOTH = "rework both"
REWORKED = {"rework external": 1, "rework internal": 1, REWORK_BOTH: 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class ToMake(Result):
    """How many new pieces of a side to make so that enough of them are good; what one is called, and what it costs."""

    side: str
    pieces: PiecesToMake
    name: str
    cost: float

    @property
    def more(self) -> int:
        """Pieces to make beyond those that the plan presses."""
        return self.pieces.number - self.pieces.wanted

    @property
    def words(self) -> str:
        """What the figures of the plan leave out, and what it costs; "" where nothing more is to be made."""
        if self.more < 1:
            return ""
        new = count(self.pieces.wanted, f"new {self.name}")
        each = "" if self.pieces.wanted == 1 else "each "
        cost, number = self.more * self.cost, f" ({self.more} x {self.cost:g})" if self.more > 1 else ""
        return (
            f"Cost and chances of the plan are those of {new}, {each}good with {share(self.pieces.chance_good)} chance"
            f" and pressed unmeasured; the {number_word(self.more)} more {'is' if self.more == 1 else 'are'} not in"
            f" them: {'costs' if self.more == 1 else 'cost'} {cost:.4g} on top{number}."
        )

    def __str__(self) -> str:
        return f"{self.side}: {self.pieces}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut(Result):
    """What is cut on a reworked or new piece: for which gap (its number as given), on which side, to what size.

    ``what`` is the dimension's name, empty where there is one gap.
    """

    gap: int
    side: str
    size: float
    what: str = ""

    def __str__(self) -> str:
        return f"{self.what or self.side} to {self.size:.6g}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPair(Result):
    """One assembly of the plan.

    ``internal`` and ``external`` are indices as given (None: a new piece, or none); ``way`` is what is done: ``press
    as is``, ``rework external``, ``rework internal``, ``rework both``, ``new external``, ``new internal``, ``new
    both`` or ``not made``; ``cuts`` what the reworked or new piece is cut to, and ``size`` that of the only cut (None:
    nothing is cut, several cuts, or both are new); ``gaps`` the gaps expected, and ``gap`` the only one (None: several,
    or none).
    """

    internal: int | None
    external: int | None
    way: str
    size: float | None
    gap: float | None
    chance: float
    cost: float
    cuts: tuple[Cut, ...] = ()
    gaps: tuple[float, ...] = ()

    def __str__(self) -> str:
        return f"{self.way}: internal {self.internal}, external {self.external}, good with {share(self.chance)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan(Result):
    """The cheapest plan, and the plain alternatives beside it.

    Attributes
    ----------
    internal_actions, external_actions : tuple of str
        For each piece: ``press as is``, ``rework`` or ``leave over``.
    pairs : tuple of PlanPair
        The assemblies wanted, one each.
    cost : float
        Work, and the cost of a spoiled assembly times its chance.
    expected_good : float
        Assemblies expected good.
    chance_all : float
        Chance that all assemblies wanted are good.
    chance_made : float
        Chance that all are that the plan makes: the same, unless assemblies are left unmade.
    reworked, remade, not_made : int
        Pieces reworked, new pieces made, assemblies left unmade because nothing pays.
    minutes : float or None
        Time of the work, where times were given.
    work : tuple of str
        What to do, in the shop's words.
    to_make : tuple of ToMake
        How many new pieces to make of each kind so that enough are good with the assurance; cost and chances are of
        the plan without those more.
    alternatives : tuple of Alternative
        Press in any order, pair, sort into classes, remake one side, and this plan.
    prices : Prices
        The costs used, and which of them were assumed.
    """

    internal_actions: tuple[str, ...]
    external_actions: tuple[str, ...]
    pairs: tuple[PlanPair, ...]
    cost: float
    expected_good: float
    chance_all: float
    chance_made: float
    reworked: int
    remade: int
    not_made: int
    minutes: float | None
    work: tuple[str, ...]
    to_make: tuple[ToMake, ...]
    alternatives: tuple[Alternative, ...]
    prices: Prices
    wanted: int
    n_internal: int
    n_external: int
    assurance: float
    remarks: tuple[str, ...]
    method: str

    def __str__(self) -> str:
        which = "all of them" if not self.not_made else f"the {number_word(self.wanted - self.not_made)} made all so"
        return (
            f"{' '.join(self.work)} {self.expected_good:.2f} of {self.wanted} assemblies expected good, {which} "
            f"with {share(self.chance_made)} chance, at a cost of {self.cost:.4g}. From {self.n_internal} internal and "
            f"{self.n_external} external pieces; {self.method}."
        )

    @property
    def left_out(self) -> str:
        """What its figures leave out: pieces made more, so that enough are good; "" where there are none."""
        return " ".join(item.words for item in self.to_make if item.words)
