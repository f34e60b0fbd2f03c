"""What the drawing says: a job with its features, fits, closures, gauges and costs."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from tracker.errors import JobError

KINDS = ("internal", "external", "length")
RULES = ("mean", "most_material", "least_material", "median", "midrange")


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """How the next cut is entered at the machine.

    Attributes
    ----------
    operation : str
        Which kind of cut, one of `tracker.cuts.CONVENTIONS`; "" when not said. It fills what is not stated of
        ``offset_on``, ``plus_makes`` and ``tool``.
    offset_on : str
        ``diameter`` or ``radius``.
    plus_makes : str
        Whether a plus offset makes the part ``larger`` or ``smaller``.
    increment : float or None
        The smallest step that can be entered, in the job's unit, on what ``offset_on`` names.
    tool : str
        What wears there, in the shop's word: insert, wheel, reamer, cutter.
    name : str
        Which machine, in the shop's word; "" when not said.
    look_every : int or None
        After how many pieces one is measured again.
    setup_sd : float or None
        How far a set-up lands from where it was aimed, as a standard deviation.
    """

    offset_on: str = "diameter"
    plus_makes: str = "larger"
    increment: float | None = None
    tool: str = "tool"
    look_every: int | None = None
    setup_sd: float | None = None
    name: str = ""
    operation: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """One kind of measured dimension of one kind of part; lengths in the job's unit.

    ``spread`` is the standard deviation that its process is known for; it stands in until two pieces are measured.
    """

    name: str
    kind: str
    nominal: float
    target: float | None = None
    lower: float | None = None
    upper: float | None = None
    gauge: str | None = None
    machine: Machine = field(default_factory=Machine)
    rule: str | None = None
    master: float | None = None
    material: str | None = None
    plating: float = 0.0
    pieces: int | None = None
    positions: tuple[str, ...] = ()
    repeats: int | None = None
    part: str = ""
    spread: float | None = None

    @property
    def aim(self) -> float:
        """The target, else the middle of the limits, else the nominal."""
        if self.target is not None:
            return self.target
        if self.lower is not None and self.upper is not None:
            return (self.lower + self.upper) / 2
        return self.nominal


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """Two features and the gap limits (internal minus external) they must meet together."""

    name: str
    internal: str
    external: str
    gap_lower: float | None
    gap_upper: float | None
    target: float | None = None
    press: Mapping[str, object] = field(default_factory=dict)
    seat: Mapping[str, object] = field(default_factory=dict)

    @property
    def aim(self) -> float | None:
        """The gap aimed at: as stated, else the middle of the limits; None when a limit is open."""
        if self.target is not None:
            return self.target
        if self.gap_lower is None or self.gap_upper is None:
            return None
        return (self.gap_lower + self.gap_upper) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosureTerms:
    """A signed sum of measured lengths with limits."""

    name: str
    terms: Mapping[str, float]
    lower: float | None
    upper: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """One measuring instrument; lengths in the job's unit."""

    name: str
    resolution: float | None = None
    calibration: float = 0.0
    correction: float = 0.0
    due: datetime.date | None = None
    low: float | None = None
    high: float | None = None
    material: str | None = None
    line: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """What things cost, in any one currency or in minutes; None where nothing was said.

    ``touch`` is a stop to change an offset, the first piece after it included; ``too_tight`` and ``too_loose`` are what
    a piece costs that makes a fit so, against 1 where only one is stated. ``stated`` names those of rework and
    remake that were given, if only as empty: what a stated one leaves out cannot be done.
    """

    press: float | None = None
    rework: Mapping[str, float] = field(default_factory=dict)
    remake: Mapping[str, float] = field(default_factory=dict)
    spoiled_assembly: float | None = None
    touch: float | None = None
    too_tight: float | None = None
    too_loose: float | None = None
    stated: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One order: its features, fits, closures, gauges and costs.

    Attributes
    ----------
    name, unit : str
        ``unit`` is ``in`` or ``mm``; every length of the job is a float in it.
    assurance : float
        How sure a verdict must be.
    features, fits, closures, gauges : mapping of str
        By name.
    remarks : tuple of str
        What was found in the file and passed over.
    folder : pathlib.Path or None
        Where the readings files lie.
    text : str
        The job as it was written.
    """

    name: str
    unit: str
    assurance: float = 0.95
    decimal_comma: bool = False
    temperature: float | None = None
    features: Mapping[str, Feature] = field(default_factory=dict)
    fits: Mapping[str, Fit] = field(default_factory=dict)
    closures: Mapping[str, ClosureTerms] = field(default_factory=dict)
    gauges: Mapping[str, Gauge] = field(default_factory=dict)
    costs: Costs = field(default_factory=Costs)
    remarks: tuple[str, ...] = ()
    folder: Path | None = None
    text: str = ""

    def gauge_of(self, feature: str) -> Gauge | None:
        """Return the gauge of a feature, or None when none was named."""
        name = self.features[feature].gauge
        return self.gauges.get(name) if name is not None else None


def load_job(folder_or_toml: str | Path) -> Job:
    """Return the job that a folder, or a ``job.toml`` itself, describes.

    Parameters
    ----------
    folder_or_toml : str or pathlib.Path

    Returns
    -------
    Job

    Raises
    ------
    JobError
        If there is no such file, it is not TOML, or what it says does not make sense; all faults are named at once.
    """
    path = Path(folder_or_toml)
    if path.is_dir():
        path = path / "job.toml"
    if not path.exists():
        raise JobError(f"there is no job at {path}; accepted is a folder that holds a job.toml, or that file")
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise JobError(f"{path} is not UTF-8 text (byte {error.start}); save it as UTF-8") from error
    except OSError as error:
        raise JobError(f"{path} cannot be read: {error.strerror}") from error
    return parse_job(text, folder=path.parent, source=path.name)


def parse_job(text: str, *, folder: Path | None = None, source: str = "job.toml", kept: bool = False) -> Job:
    """Return the job that a text in the form of ``job.toml`` describes.

    Parameters
    ----------
    text : str
    folder : pathlib.Path, optional
        Where the readings files lie.
    source : str
        What the text is called in a message.
    kept : bool
        Whether a record holds it already: then what was once taken and is refused now is a remark.

    Raises
    ------
    JobError
        As `load_job`.
    """
    from tracker.job_file import JobReader

    return JobReader(text, source, kept=kept).job(folder)
