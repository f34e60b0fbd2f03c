"""Where a command finds its job: a folder with its readings, or a job in the record."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from tracker.errors import JobError

if TYPE_CHECKING:
    from tracker.job import Job
    from tracker.judge.features import Happening
    from tracker.readings import Import

Command = TypeVar("Command", bound=Callable[..., Any])

YES, NO, CANNOT_SAY = 0, 1, 2


@dataclass(frozen=True, slots=True)
class Source:
    """A job with what was measured for it."""

    job: Job
    readings: Import
    events: tuple[Happening, ...]


def job_argument(command: Command) -> Command:
    """Give a command the argument and options that name its job."""
    command = click.argument("job", metavar="JOB")(command)
    command = click.option(
        "--record",
        metavar="URL",
        envvar="TENTHWISE_RECORD",
        help="Take the job from this record (a SQLite file or a postgresql+psycopg URL), by its name or number.",
    )(command)
    return click.option("--json", "as_json", is_flag=True, help="Print the answer for machines.")(command)


def open_source(job: str, record: str | None, *, keep_suspects: bool = False) -> Source:
    """Return the job of a folder, or of the record when one is named and no such folder exists.

    Raises
    ------
    TrackerError
        If there is no such job, or it cannot be read.
    """
    path = Path(job)
    if path.exists():
        from tracker.job import load_job
        from tracker.judge import readings_of
        from tracker.readings import read_events

        loaded = load_job(path)
        folder = loaded.folder or path
        found = readings_of(folder, loaded, keep_suspects=keep_suspects)
        return Source(loaded, found, tuple(read_events(folder, loaded)))
    if record is None:
        raise JobError(
            f"there is no folder {job!r}; accepted is a folder that holds a job.toml,"
            " or the name of a job together with --record URL"
        )
    from tracker.record import open_record

    with open_record(record, create=False) as kept:
        number = kept.find_job(job)
        return Source(kept.job(number), kept.readings(number), tuple(kept.events(number)))


def pick(wanted: str | None, known: list[str], what: str) -> str:
    """Return the wanted name, or the only one there is.

    Raises
    ------
    JobError
        If it is not known, or there are several and none was named.
    """
    if wanted is None and len(known) == 1:
        return known[0]
    if wanted in known:
        return str(wanted)
    if not known:
        raise JobError(f"this job states no {what}; add [{what}s.NAME] to its job.toml")
    listed = ", ".join(known)
    if wanted is None:
        raise JobError(f"this job has more than one {what}; name one with --{what}: {listed}")
    raise JobError(f"there is no {what} {wanted!r} in this job; there are: {listed}")


def print_json(answer: dict[str, Any]) -> None:
    """Print an answer for machines."""
    click.echo(json.dumps(answer, ensure_ascii=False, indent=2, allow_nan=False))
