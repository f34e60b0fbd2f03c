"""Readings files into the record: counted, asked about where somebody is asked, and kept."""

from __future__ import annotations

import dataclasses
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tracker.cli.source import CANNOT_SAY, NO, YES, print_json
from tracker.errors import ReadingsError
from tracker.plurals import noun

if TYPE_CHECKING:
    from tracker.job import Job
    from tracker.readings import Import
    from tracker.record import Record

LARGE = 20_000_000
"""Bytes from which a source is read in parts, so that memory stays small; twice where it is asked about first."""

MOST_NAMED = 20

Parts = Callable[[], Iterable["Import"]]


def imported(
    kept: Record, number: int, job: str, files: tuple[Path, ...], by: str, *, yes: bool, strict: bool, as_json: bool
) -> int:
    """Keep the files of a folder, or those named, and return the exit status.

    Raises
    ------
    TrackerError
        If there is nothing to keep, nobody to ask, or a file cannot be read.
    """
    from tracker.readings import write_refused

    loaded = kept.job(number)
    folder = Path(job) if Path(job).is_dir() else None
    if not files and folder is None:
        raise ReadingsError("nothing to keep: name a folder or a file, or type values with --feature")
    outcome = []
    status = YES
    for source in list(files) or [folder or Path(job)]:
        parts = parts_of(source, loaded)
        seen = Seen()
        if not yes or strict:  # whoever decides on the whole must see the whole first
            for found in parts():
                seen.take(found)
            seen.tell()
            if strict and (seen.suspect or seen.refused):
                click.echo("nothing kept: --strict, and not every reading is good", err=True)
                return CANNOT_SAY
            if not (yes or strict) and not _asked(seen.good, seen.suspect):
                return CANNOT_SAY
            outcome.append(kept.add_readings(number, parts(), by, progress=_progress()))
        else:
            outcome.append(kept.add_readings(number, map(seen.take, parts()), by, progress=_progress()))
            seen.tell()
        for found in seen.refused:
            for path in write_refused(found, source if source.is_dir() else source.parent):
                click.echo(f"refused rows, to be corrected and fed again: {path}", err=True)
        status = NO if seen.suspect or seen.refused else status
    if folder is not None and not files:
        _keep_events(kept, number, folder, loaded, by)
    if as_json:
        print_json({"job": number, "kept": [item.to_dict() for item in outcome]})
    else:
        for item in outcome:
            click.echo(str(item))
    return status


def parts_of(source: Path, job: Job) -> Parts:
    """Return how to go through a source, whole when it is small, in parts when it is large."""
    from tracker.readings import iter_readings, read_readings

    paths = [path for path in source.iterdir() if path.is_file()] if source.is_dir() else [source]
    if sum(path.stat().st_size for path in paths) > LARGE:
        return lambda: iter_readings(source, job)
    whole = [read_readings(source, job)]
    return lambda: whole


class Seen:
    """What went by: how much is good, suspect and refused; says what was understood and what is wrong."""

    def __init__(self) -> None:
        self.good = self.suspect = 0
        self.refused: list[Import] = []
        self._named = 0
        self._said: set[str] = set()

    def take(self, found: Import) -> Import:
        """Count one part, say what is to be said of it, and hand it on."""
        from tracker.readings import refusal_words

        self.good, self.suspect = self.good + len(found.readings), self.suspect + len(found.suspects)
        for words in found.understood:
            if words not in self._said:
                click.echo(f"  {words}", err=True)
                self._said.add(words)
        faults = [
            f"suspect: {row['file']} row {row['row']}: {row['question']}" for row in found.suspects.to_dict("records")
        ]
        for row in found.refused.to_dict("records"):
            faults.append(f"refused: {refusal_words({str(key): value for key, value in row.items()})}")
        for words in faults[: max(0, MOST_NAMED - self._named)]:
            click.echo(f"  {words}", err=True)
        self._named += len(faults)
        if len(found.refused):
            nothing = found.readings.iloc[:0].copy(), found.suspects.iloc[:0].copy()
            self.refused.append(dataclasses.replace(found, readings=nothing[0], suspects=nothing[1]))
        return found

    def tell(self) -> None:
        """Say how many there were."""
        if self._named > MOST_NAMED:
            click.echo(f"  ... and {self._named - MOST_NAMED} more", err=True)
        rows = sum(len(found.refused) for found in self.refused)
        click.echo(f"{self.good:,} good readings, {self.suspect:,} suspect, {rows:,} refused", err=True)


def _keep_events(kept: Record, number: int, folder: Path, job: Job, by: str) -> None:
    from tracker.readings import read_events

    there = {(event.feature, event.after_piece, event.event, event.batch) for event in kept.events(number)}
    for event in read_events(folder, job):
        if (event.feature, event.after_piece, event.event, event.batch) not in there:
            kept.add_event(
                number, event.feature, event.after_piece, event.event, event.amount, batch=event.batch, by=by
            )


def _asked(good: int, suspect: int) -> bool:
    if not sys.stdin.isatty():
        raise ReadingsError(
            "nobody is there to ask: say --yes to keep the good readings, or --strict for all or nothing"
        )
    held = f", hold {suspect} {noun(suspect, 'suspect')} back" if suspect else ""
    return click.confirm(f"Keep {good} {noun(good, 'reading')}{held}?", err=True)


def _progress() -> Callable[[int, int], None] | None:
    if not sys.stderr.isatty():
        return None

    def show(done: int, whole: int) -> None:
        of = f" of {whole:,}" if whole else ""
        click.echo(f"\r  {done:,}{of} readings", nl=bool(whole) and done >= whole, err=True)

    return show
