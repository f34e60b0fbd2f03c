"""Files brought in by a browser: written to a folder of their own under safe names, looked at, and kept on a word."""

from __future__ import annotations

import secrets
import shutil
import tempfile
import threading
import time
import unicodedata
import weakref
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from tracker.errors import JobError, ReadingsError, TrackerError
from tracker.job import Job, parse_job

if TYPE_CHECKING:
    from tracker.readings import Event, Import

MOST_FILES = 60
MOST_WAITING = 8
HOLDS_SECONDS = 3600.0
LONGEST_NAME = 80
ENDINGS = (".toml", ".csv", ".tsv", ".xlsx", ".parquet")
_DEVICES = {"con", "prn", "aux", "nul", *(f"{kind}{number}" for kind in ("com", "lpt") for number in range(1, 10))}


class Sent(Protocol):
    """A file as a request carries it."""

    filename: str | None

    def save(self, dst: Any, buffer_size: int = 16384) -> None:
        """Write it."""


def safe_name(sent: str) -> str:
    r"""Return the name that a file is written under: no folder, no sign that means anything to a file system.

    Raises
    ------
    ReadingsError
        If no name is left, or its ending is none that is read.

    Examples
    --------
    >>> safe_name("../../shanks.csv"), safe_name("C:\\nest\\Bores (1).CSV"), safe_name("con.csv")
    ('shanks.csv', 'Bores _1_.csv', 'con_.csv')
    """
    last = unicodedata.normalize("NFC", sent).replace("\\", "/").rpartition("/")[2]
    stem, dot, ending = last.rpartition(".")
    ending = f".{ending.casefold()}"
    if not dot or ending not in ENDINGS:
        raise ReadingsError(f"{last[:LONGEST_NAME]!r} is not read; accepted are job.toml and {', '.join(ENDINGS[1:])}")
    kept = "".join(letter if letter.isalnum() or letter in " -_." else "_" for letter in stem)[:LONGEST_NAME]
    kept = kept.strip(" .")
    if not kept:
        raise ReadingsError(f"{last[:LONGEST_NAME]!r} has no name before its ending; give it one, such as shanks.csv")
    return f"{kept}_{ending}" if kept.casefold() in _DEVICES else f"{kept}{ending}"


@dataclass(slots=True)
class Brought:
    """What was brought in and waits to be kept.

    Attributes
    ----------
    token : str
    folder : pathlib.Path
    job : Job
        That the readings were read by.
    number : int or None
        Of the job in the record they belong to; None for a new one.
    found : Import or None
        None when there were no readings files.
    events : list of Event
    passed_over, remarks : list of str
    refused : list of pathlib.Path
        Files with the refused rows.
    kept : int or None
        The number of the job, once it was kept.
    """

    token: str
    folder: Path
    job: Job
    number: int | None
    found: Import | None = None
    events: list[Event] = field(default_factory=list)
    passed_over: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    refused: list[Path] = field(default_factory=list)
    kept: int | None = None
    at: float = field(default_factory=time.monotonic)
    turn: threading.Lock = field(default_factory=threading.Lock)


class Waiting:
    """What waits, by token; a few at a time, for an hour, and gone with the program. Safe between threads."""

    def __init__(self) -> None:
        self._held: dict[str, Brought] = {}
        self._turn = threading.Lock()
        self._root: Path | None = None

    def take(self, files: Iterable[Sent], known: Job | None, number: int | None) -> Brought:
        """Write files to a folder of their own and read them.

        Parameters
        ----------
        files : iterable of Sent
        known : Job, optional
            That the readings belong to; without it a ``job.toml`` must be among the files.
        number : int or None
            Of that job.

        Raises
        ------
        TrackerError
            If they cannot be read at all; nothing is left behind.
        """
        folder = self._folder()
        try:
            names, passed_over = _written(files, folder)
            job, remarks = _job_of(names, folder, known)
            held = Brought(secrets.token_urlsafe(18), folder, job, number, passed_over=passed_over, remarks=remarks)
            _look(held, [name for name in names if name != "job.toml"])
        except BaseException:
            shutil.rmtree(folder, ignore_errors=True)
            raise
        with self._turn:
            self._held[held.token] = held
            old = [item for item in self._held.values() if time.monotonic() - item.at > HOLDS_SECONDS]
            for item in [*old, *list(self._held.values())[:-MOST_WAITING]]:
                if self._held.pop(item.token, None) is not None:
                    shutil.rmtree(item.folder, ignore_errors=True)
        return held

    def of(self, token: str) -> Brought | None:
        """Return what waits under a token; None when it is gone."""
        with self._turn:
            return self._held.get(token)

    def drop(self, token: str) -> None:
        """Throw away what waits under a token."""
        with self._turn:
            held = self._held.pop(token, None)
        if held is not None:
            shutil.rmtree(held.folder, ignore_errors=True)

    def _folder(self) -> Path:
        with self._turn:
            if self._root is None:
                self._root = Path(tempfile.mkdtemp(prefix="tenthwise-"))
                weakref.finalize(self, shutil.rmtree, self._root, ignore_errors=True)
            return Path(tempfile.mkdtemp(dir=self._root))


def _written(files: Iterable[Sent], folder: Path) -> tuple[list[str], list[str]]:
    names: list[str] = []
    passed_over: list[str] = []
    for count, file in enumerate(files):
        if count >= MOST_FILES:
            raise ReadingsError(f"there are more than {MOST_FILES} files; bring them in parts, or use: tenthwise log")
        try:
            name = safe_name(file.filename or "")
        except ReadingsError as error:
            passed_over.append(str(error))
            continue
        if name.endswith(".toml") and name.casefold() != "job.toml":
            passed_over.append(f"{name} is not read; the file of a job is called job.toml")
            continue
        if name.casefold() in {there.casefold() for there in names}:
            raise ReadingsError(f"{name} is there twice; bring one job at a time, each file under its own name")
        if name.casefold() in ("job.toml", "events.csv"):
            name = name.casefold()
        if name.startswith("_"):
            passed_over.append(f"{name} is passed over, because its name begins with _")
            continue
        file.save(folder / name)
        names.append(name)
    if not names:
        why = f": {'; '.join(passed_over[:5])}" if passed_over else ""
        raise ReadingsError(f"no file can be read; accepted are job.toml and {', '.join(ENDINGS[1:])}{why}")
    return names, passed_over


def _job_of(names: list[str], folder: Path, known: Job | None) -> tuple[Job, list[str]]:
    """Return the job that the readings are read by, and what is to be said of a ``job.toml`` that is not used."""
    if "job.toml" not in names:
        if known is None:
            raise JobError(
                "there is no job.toml among the files, so it cannot be told which job they are of;"
                " bring it too, or say above which job they belong to"
            )
        return known, []
    try:
        text = (folder / "job.toml").read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise JobError(f"job.toml is not UTF-8 text (byte {error.start}); save it as UTF-8") from error
    if known is None:
        return parse_job(text), []
    same = text.strip() == known.text.strip()
    return known, [] if same else [
        f"job.toml differs from {known.name} in the record and is not used; to change the job, open it on Jobs"
    ]


def _look(held: Brought, names: list[str]) -> None:
    """Read what was brought: readings, events, and the refused rows as files."""
    from tracker.readings import read_events, read_readings, write_refused

    if any(name != "events.csv" for name in names):
        held.found = read_readings(held.folder, held.job)
        apart = held.folder / "refused"
        apart.mkdir()
        held.refused = write_refused(held.found, apart)
    if "events.csv" in names:
        held.events = read_events(held.folder, held.job)


def refusal_of_all(error: TrackerError) -> list[str]:
    """Return what is wrong, a line a fault."""
    lines = str(error).splitlines()
    return [line.removeprefix("  - ") for line in lines]
