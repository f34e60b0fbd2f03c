"""The answer to the main job: everything that ``check`` prints, as frozen results."""

from __future__ import annotations

from dataclasses import dataclass

from tracker.decide import Plan, Shift, Verdict
from tracker.drift import WearLine
from tracker.fit import Chance, Classes, Closure, Pairing, Target, Unmade
from tracker.fit.press_results import PressFit
from tracker.fit.seating import Seat
from tracker.plurals import noun
from tracker.result import Result
from tracker.spread import Capability, Components, IntervalFit, Normality, Sizes, Summary

BEYOND_STRENGTH = "a part passes its strength as pressed"
"""The rule of a verdict not to press, in ``Verdict.method``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingsCount(Result):
    """How many readings there were, and a fingerprint (SHA-256) of those that count."""

    good: int
    suspect: int
    refused: int
    duplicates: int
    fingerprint: str

    def __str__(self) -> str:
        counted = f"{self.good} {noun(self.good, 'reading counts', 'readings count')}"
        words = f"{counted}, {self.suspect} suspect, {self.refused} refused"
        return words + (f", {self.duplicates} there twice and kept once" if self.duplicates else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class FeatureCheck(Result):
    """What is known of one feature's batch; lengths in the job's unit.

    What could not be computed is None, and ``reasons`` says why under the name of the field. ``one_sided`` are pieces
    that only go, or only do not go, and that the others do not bound: there are no ``sizes`` then, and nothing that
    rests on them; mean, spread, capability and shift are those of the ``bounds`` where these tell them. ``marks`` are
    the ``events`` with the amounts that are known; None where one could not be placed.
    """

    name: str
    kind: str
    nominal: float
    target: float
    lower: float | None
    upper: float | None
    step: float
    sizes: Sizes | None
    bounds: IntervalFit | None
    summary: Summary | None
    capability: Capability | None
    components: Components | None
    normality: Normality | None
    wear: WearLine | None
    shift: Shift | None
    events: tuple[tuple[int, str], ...]
    marks: tuple[tuple[int, str] | tuple[int, str, float], ...] | None = None
    one_sided: tuple[str, ...] = ()
    reasons: dict[str, str]

    @property
    def outside(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """The pieces that read under the lower, and over the upper limit of size, by name."""
        if self.sizes is None:
            return (), ()
        near = 1e-9 * self.step  # a size on its limit is within it, whatever the last bit says
        under, over = (
            ()
            if limit is None
            else tuple(
                piece for piece, size in zip(self.sizes.piece, self.sizes.size.tolist()) if sign * (size - limit) > near
            )
            for sign, limit in ((-1, self.lower), (1, self.upper))
        )
        return under, over

    def __str__(self) -> str:
        return f"{self.name}: {self.summary if self.summary is not None else self.reasons.get('summary', 'nothing')}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Unsized(Result):
    """What belongs to the batch of a feature and has no size.

    Attributes
    ----------
    feature : str
        "" where it may be of any.
    held, refused : tuple of str
        Pieces with suspect readings only; those with refused rows only.
    rows, files : int
        Refused rows that do not tell whose they are, and files that could not be read.
    short : int
        How many more of the ``stated`` pieces have no reading at all.
    stated : int or None
        How many pieces the job says there are.
    """

    feature: str
    held: tuple[str, ...]
    refused: tuple[str, ...]
    rows: int
    files: int
    short: int
    stated: int | None

    @property
    def pieces(self) -> tuple[str, ...]:
        """The pieces that are known by name, numbers in their order."""
        both = (*self.held, *self.refused)
        return tuple(sorted(both, key=int)) if all(piece.isdecimal() for piece in both) else both

    @property
    def any(self) -> bool:
        """Whether there is anything without a size."""
        return bool(self.held or self.refused or self.rows or self.files or self.short)

    def __str__(self) -> str:
        return f"{self.feature or 'any feature'}: {len(self.pieces)} named, {self.short} short, {self.rows} rows"


@dataclass(frozen=True, slots=True, kw_only=True)
class PairRow(Result):
    """One pair of the pairing, with the names of its pieces; lengths in the job's unit."""

    internal: str
    external: str
    internal_size: float
    external_size: float
    gap: float
    margin: float
    uncertainty: float
    near: bool

    def __str__(self) -> str:
        return f"{self.internal} with {self.external}: gap {self.gap:.6g}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedPair(Result):
    """One assembly of a plan that reworks or remakes pieces; lengths in the job's unit.

    A name is None for a new piece. A size is what the piece reads, or with ``cut`` what it is reworked or made to;
    None where two new pieces are made to suit each other. ``work`` is what is done, as `tracker.decide` names it.
    """

    internal: str | None
    external: str | None
    internal_size: float | None
    external_size: float | None
    internal_cut: bool
    external_cut: bool
    gap: float | None
    chance: float
    work: str

    def __str__(self) -> str:
        return f"{self.internal or 'new'} with {self.external or 'new'}: {self.work}"


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOver(Result):
    """A piece that found no mate, and why."""

    feature: str
    piece: str
    why: str

    def __str__(self) -> str:
        return f"{self.feature} {self.piece}: {self.why}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedCut(Result):
    """New pieces of a plan at the machine: how many, to which size, and the offset from how it stands now.

    ``change`` is how much larger than the next piece would come out; ``offset`` in machine terms, 0 where the machine
    stands right within half a step.
    """

    pieces: int
    size: float
    change: float
    offset: float
    words: str

    def __str__(self) -> str:
        return self.words


@dataclass(frozen=True, slots=True, kw_only=True)
class FitCheck(Result):
    """Will these two batches go together; lengths in the job's unit.

    ``cut_next`` is the side that is cut to suit the other, ``cut_to`` the size that suits the mates as measured: the
    mean mate and the gap aimed at when the job states one, else ``best_target``. ``shift`` brings the process there.
    ``from_drawing`` is the gap when nothing tells what to cut a side to: the drawing's limits stand in for it.
    ``unmade`` is what may be expected of a side that is not made yet once it is cut to ``cut_to``. ``assembly`` names
    the assembly when its pairs must meet other fits or closures too: verdict, pairs and plan are then those of all at
    once, and ``chance`` is of this fit alone. ``press`` covers every pair that the verdict lets meet, and
    ``press_over`` says which those are: where a part passes its strength there, the verdict is not to press, and there
    is neither a plan nor a shift. ``planned`` are the pairs of a plan that reworks or remakes pieces.
    ``planned_cuts`` are its new pieces at the machine: they suit the mates that are left without one, and so need not
    be of the size that suits the batch.
    """

    name: str
    internal: str
    external: str
    gap_lower: float | None
    gap_upper: float | None
    target: float | None
    mean_gap: float | None
    verdict: Verdict
    chance: Chance | None
    from_drawing: Closure | None
    pairing: Pairing | None
    pairs: tuple[PairRow, ...]
    left_over: tuple[LeftOver, ...]
    classes: Classes | None
    best_target: Target | None
    cut_next: str | None
    cut_to: float | None
    shift: Shift | None
    plan: Plan | None
    planned_cuts: tuple[PlannedCut, ...] = ()
    planned: tuple[PlannedPair, ...] = ()
    unmade: Unmade | None = None
    unmade_words: str = ""
    press: PressFit | None = None
    press_over: str = ""
    seat: Seat | None = None
    assembly: str | None = None
    reasons: dict[str, str]

    @property
    def do_not_press(self) -> bool:
        """Whether a part would pass its strength as the verdict would have them pressed."""
        return self.verdict.method == BEYOND_STRENGTH

    def __str__(self) -> str:
        return f"{self.name}: {self.verdict}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosurePair(Result):
    """One pair of a closure: the pieces, the sum and its standard uncertainty."""

    internal: str
    external: str
    total: float
    margin: float
    uncertainty: float
    near: bool

    def __str__(self) -> str:
        return f"{self.internal} with {self.external}: {self.total:.6g}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosureAssembly(Result):
    """Pieces of three parts or more put together: the piece of each term by its name, the sum and its uncertainty.

    ``margin`` is negative where the sum is out of limits; ``near`` says that it is nearer to one than the gauge can
    tell.
    """

    pieces: dict[str, str]
    total: float
    margin: float
    uncertainty: float
    within: bool
    near: bool

    def __str__(self) -> str:
        return f"{', '.join(f'{name} {piece}' for name, piece in self.pieces.items())}: {self.total:.6g}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosureCheck(Result):
    """A signed sum of measured lengths against its limits.

    ``pairs`` are its sums in the best pairing where its terms lie on two parts (``sides`` are what their pieces are
    called, ``parts`` the terms on each), and ``chance_pairs`` that they all hold; ``assembly`` names the assembly when
    those pairs must meet other fits or closures too. Where its terms lie on three parts or more, ``made`` are the
    pieces put together, ``made_how`` says how sure it is that no way is better, and ``chance_pairs`` is that those
    within limits all hold.
    """

    name: str
    lower: float | None
    upper: float | None
    step: float
    verdict: Verdict
    result: Closure | None
    sides: tuple[str, str] | None = None
    parts: tuple[tuple[str, ...], tuple[str, ...]] | None = None
    chance_pairs: float | None = None
    pairs: tuple[ClosurePair, ...] = ()
    made: tuple[ClosureAssembly, ...] = ()
    made_how: str = ""
    left_over: tuple[LeftOver, ...] = ()
    assembly: str | None = None
    reasons: dict[str, str]

    def __str__(self) -> str:
        return f"{self.name}: {self.verdict}"


@dataclass(frozen=True, slots=True, kw_only=True)
class AssemblyPair(Result):
    """A pair that meets every fit and closure of its assembly; ``gaps`` and ``uncertainty`` by their names.

    ``gaps`` are gaps of fits and sums of closures, ``margin`` the least distance of any of them to its limit.
    """

    internal: str
    external: str
    gaps: dict[str, float]
    uncertainty: dict[str, float]
    margin: float
    near: bool

    def __str__(self) -> str:
        gaps = ", ".join(f"{name} {gap:.6g}" for name, gap in self.gaps.items())
        return f"{self.internal} with {self.external}: {gaps}"


@dataclass(frozen=True, slots=True, kw_only=True)
class AssemblyCheck(Result):
    """Pieces of two parts that must meet several fits and closures at once; lengths in the job's unit.

    ``internal`` and ``external`` are what a piece of each part is called, ``chance_any`` the chance that these pieces
    in any order all meet everything, ``pair_any`` that one pair met at random does, ``chance_pairs`` that the pairs
    listed do; ``pieces`` are both sides' labels.
    """

    name: str
    internal: str
    external: str
    fits: tuple[str, ...]
    closures: tuple[str, ...]
    verdict: Verdict
    chance_any: float | None
    pair_any: float | None
    chance_pairs: float | None
    wanted: int
    pieces: tuple[tuple[str, ...], tuple[str, ...]]
    pairs: tuple[AssemblyPair, ...]
    left_over: tuple[LeftOver, ...]
    plan: Plan | None
    reasons: dict[str, str]

    @property
    def do_not_press(self) -> bool:
        """Whether a part would pass its strength as the verdict would have them pressed."""
        return self.verdict.method == BEYOND_STRENGTH

    def __str__(self) -> str:
        return f"{self.name}: {self.verdict}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Check(Result):
    """The whole job judged."""

    job: str
    unit: str
    assurance: float
    verdict: Verdict
    fits: tuple[FitCheck, ...]
    closures: tuple[ClosureCheck, ...]
    assemblies: tuple[AssemblyCheck, ...] = ()
    unsized: tuple[Unsized, ...] = ()
    features: tuple[FeatureCheck, ...]
    readings: ReadingsCount
    understood: tuple[str, ...]
    remarks: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.job}: {self.verdict}"

    def feature(self, name: str) -> FeatureCheck:
        """Return what is known of the feature of that name."""
        return next(item for item in self.features if item.name == name)
