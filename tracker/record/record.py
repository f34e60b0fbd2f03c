"""`Record`: everything that may be asked of the record."""

from __future__ import annotations

import dataclasses
import datetime
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, select

from tracker.errors import NotInRecord, RecordError
from tracker.job import Job
from tracker.record import chain, copies, keeping, views
from tracker.record.database import file_of, writing, writing_bare
from tracker.record.faults import in_plain_words
from tracker.record.kinds import (
    BatchInfo,
    Bulk,
    Copy,
    JobInfo,
    Kept,
    LogEntry,
    LogState,
    Proof,
)
from tracker.record.measured import Measurements
from tracker.record.one_reading import Typed
from tracker.record.people import People
from tracker.record.register import Register

if TYPE_CHECKING:
    from tracker.readings.imports import Import

Moment = datetime.datetime | None
Progress = Callable[[int, int], None]


class Record(Register, People, Measurements):
    """An open record. Safe to share between threads; every method is one transaction.

    Times (``now``) and who does it (``by``) are arguments; the clock is never trusted for order, the number is.
    """

    # -- jobs

    def add_job(self, text: str, by: str = "", *, client_id: str | None = None, now: Moment = None) -> JobInfo:
        """Keep a new job from the text of a ``job.toml``.

        Raises
        ------
        JobError
            If the text does not make sense.
        """
        with self._writing() as ledger:
            job_id, made = keeping.keep_job(ledger, text, by, client_id, keeping.utc(now))
        return self._info(job_id, made)

    def revise_job(self, job_id: int, text: str, by: str = "", *, now: Moment = None) -> JobInfo:
        """Keep a new revision of a job; earlier ones stay, and batches keep the one they were begun under."""
        with self._writing() as ledger:
            latest = self._revisions.latest(ledger.connection, job_id)
            made = keeping.keep_revision(ledger, latest, text, by, keeping.utc(now))
        return self._info(job_id, made)

    def _info(self, job_id: int, made: bool) -> JobInfo:
        with self._reading() as connection:
            found = views.job_infos(connection, self._tallies.now(connection), job_id)
        return dataclasses.replace(found[0], made=made)

    def jobs(self) -> list[JobInfo]:
        """Return the jobs with their counts and the time of the last reading, newest first."""
        with self._reading() as connection:
            return views.job_infos(connection, self._tallies.now(connection))

    def find_job(self, name_or_number: str | int) -> int:
        """Return the number of the job of that number or name; of several with one name the newest.

        Raises
        ------
        RecordError
            If there is none.
        """
        wanted = str(name_or_number).strip()
        found = self.jobs()
        for info in found:
            if wanted == str(info.id) or wanted.casefold() == info.name.casefold():
                return info.id
        listed = "; ".join(f"{info.id} {info.name}" for info in found[:12]) or "none yet"
        raise RecordError(f"there is no job {wanted!r} in the record {self.name}; there are: {listed}")

    def job(self, job_id: int, revision: int | None = None) -> Job:
        """Return a job as a revision describes it; the latest when none is named.

        The register of gauges has the last word on when a gauge is due, and adds gauges that the job only names.

        Raises
        ------
        RecordError
            If there is no such job, or no such revision of it.
        """
        with self._reading() as connection:
            return self._revisions.numbered(connection, job_id, revision).job

    def job_text(self, job_id: int) -> str:
        """Return the text of the latest revision of a job."""
        return self.job(job_id).text

    def batches(self, job_id: int) -> list[BatchInfo]:
        """Return the batches of a job, each with the revision it was begun under."""
        with self._reading() as connection:
            return views.batch_infos(connection, self._tallies.now(connection), job_id)

    # -- readings

    def add_reading(
        self,
        job_id: int,
        feature: str,
        piece: str,
        text: str,
        *,
        client_id: str,
        position: str = "",
        repeat: int | None = None,
        kind: str | None = None,
        unit: str | None = None,
        batch: str = "",
        gauge: str | None = None,
        operator: str = "",
        note: str = "",
        temperature: float | None = None,
        time: Moment = None,
        by: str = "",
        now: Moment = None,
    ) -> Kept:
        """Keep one reading as typed; when this returns, it is on the disk.

        Parameters
        ----------
        job_id : int
        feature, piece, text : str
            Which feature of which piece, and what was typed.
        client_id : str
            Made by the sender, one for each reading: sent twice, it is kept once and the first is handed back. Another
            reading under the same id is refused.
        position, kind, unit, batch, gauge, operator, note : str
            As in a readings file. ``unit`` is that of a text which names none; ``gauge`` None means the feature's.
        repeat : int, optional
            The next at that position when not given.
        temperature : float, optional
            In degrees Celsius.
        time, now : datetime.datetime, optional
            When it was measured and when it was kept; this moment when not given.
        by : str
            Who keeps it; the operator when not given.

        Returns
        -------
        Kept

        Raises
        ------
        LengthError
            If the text is not a reading.
        ReadingsError
            If the job has no such feature, no piece is named, or another reading has the same ``client_id``.
        RecordError
            If it could not be kept; nothing of it was.
        """
        if not client_id:
            raise RecordError("a reading needs a client_id, made by the sender; without one a repeat cannot be told")
        typed = Typed(
            job_id=int(job_id),
            feature=feature,
            piece=str(piece).strip(),
            text=text,
            batch=batch.strip(),
            position=position.strip(),
            repeat=repeat,
            kind=kind,
            unit=unit,
            gauge=gauge,
            operator=operator,
            note=note,
            temperature=temperature,
            time=time or now or datetime.datetime.now(),
            client_id=client_id,
        )
        who, at, dialect = by or operator, keeping.utc(now), self._engine.dialect.name
        with self._turn, in_plain_words(self.name):
            with writing_bare(self._engine) as cursor:
                kept = self._counter.keep_quickly(cursor, dialect, typed, who, at)
            if kept is not None:
                return kept
            with writing(self._engine) as connection:
                return self._counter.keep(connection, typed, who, at)

    def add_readings(
        self,
        job_id: int,
        found: Import | Iterable[Import],
        by: str = "",
        *,
        progress: Progress | None = None,
        now: Moment = None,
    ) -> Bulk:
        """Keep what reading files gave: all of it or, when it cannot be kept, nothing.

        Parameters
        ----------
        job_id : int
        found : Import or iterable of Import
            Good readings count at once, suspects are held back until `confirm`; refused rows are not kept. What
            `tracker.readings.iter_readings` yields is kept as it comes, in one transaction and little memory.
        by : str
        progress : callable, optional
            Called with the readings done and the readings in all (0 where that is not known before the end).
        now : datetime.datetime, optional

        Returns
        -------
        Bulk

        Raises
        ------
        ReadingsError
            If there is a feature that the job does not have.
        RecordError
            If the readings are in another unit than the job, or could not be kept.

        Notes
        -----
        The same file twice keeps each reading once: a row of a file of that name that says the same is there already,
        and so is a whole file that says what an earlier one said under another name.
        """
        from tracker.readings.imports import Import
        from tracker.record.ahead import read_ahead
        from tracker.record.bulk import keep_imports

        total = len(found.readings) + len(found.suspects) if isinstance(found, Import) else 0
        listed = [found] if isinstance(found, Import) else read_ahead(found)
        at = keeping.utc(now)
        with self._writing() as ledger:
            revision = self._revisions.latest(ledger.connection, job_id)
            return keep_imports(ledger, revision, listed, by, at, total=total, progress=progress)

    def strike(self, reading_id: int, reason: str, by: str = "", *, now: Moment = None) -> LogEntry:
        """Strike a reading out, with a reason; it stays readable. Twice is once, and the first reason stands.

        Raises
        ------
        ReadingsError
            If no reason is given.
        RecordError
            If there is no such reading.
        """
        with self._writing() as ledger:
            keeping.keep_strike(ledger, reading_id, reason, by, keeping.utc(now))
            self._counter.forget()
            return self._entry(ledger.connection, reading_id)

    def confirm(self, reading_id: int, by: str = "", *, now: Moment = None) -> LogEntry:
        """Confirm a suspect: it counts from now on and stays marked.

        Raises
        ------
        ReadingsError
            If it was struck out.
        RecordError
            If there is no such reading.
        """
        with self._writing() as ledger:
            keeping.keep_confirmation(ledger, reading_id, by, keeping.utc(now))
            return self._entry(ledger.connection, reading_id)

    @staticmethod
    def _entry(connection: Connection, reading_id: int) -> LogEntry:
        found = views.one_entry(connection, reading_id)
        if found is None:
            raise NotInRecord(f"there is no reading {reading_id} in this record")
        return found

    def readings(
        self, job_id: int, feature: str | None = None, *, batch: str | None = None, struck: bool = False
    ) -> Import:
        """Return the readings of a job in the shape that reading its files gives, with the column ``id`` behind.

        Struck-out readings are left out, or with ``struck`` kept in, with the column ``struck`` (the reason).
        """
        from tracker.record.frames import import_of

        with self._reading() as connection:
            unit = self._revisions.latest(connection, job_id).job.unit
            return import_of(connection, job_id, unit, feature, batch=batch, struck=struck)

    def log_state(
        self, job_id: int, feature: str, last: int = 20, *, batch: str | None = None, most_pieces: int = 200
    ) -> LogState:
        """Return what the Log page shows: the latest pieces, the last entries with their fate, and the counts."""
        with self._reading() as connection:
            job = self._revisions.latest(connection, job_id).job
            keeping.known_feature(job, feature)
            return views.log_state(
                connection,
                self._tallies.now(connection),
                job_id,
                feature,
                job.unit,
                batch=batch,
                last=last,
                most_pieces=most_pieces,
            )

    def since(
        self, job_id: int, after_id: int, feature: str | None = None, *, most: int | None = None
    ) -> list[LogEntry]:
        """Return what was kept after a reading, in order of number: how a second viewer follows."""
        with self._reading() as connection:
            return views.entries_since(connection, job_id, feature, after_id=after_id, most=most)

    def judged(self, job_id: int) -> list[LogEntry]:
        """Return the readings of a job that were struck out or confirmed, each with who and when, in order."""
        with self._reading() as connection:
            return views.judged_entries(connection, job_id)

    # -- trust

    def verify(self) -> Proof:
        """Walk the whole chain; name the first row that was altered, removed or inserted.

        Raises
        ------
        RecordDamaged
            If the file is no longer a whole database.
        """
        path = file_of(self._engine.url)
        if path is not None:
            copies.check_pages(path)
        with self._reading() as connection:
            return chain.proof(connection)

    def backup(self, path: str | Path, *, progress: Progress | None = None, now: Moment = None) -> Copy:
        """Copy the record into one file while it is in use, and verify the copy.

        Raises
        ------
        RecordError
            If the file is there already, or cannot be written.
        RecordDamaged
            If what was written does not hold; it is not left behind.
        """
        with in_plain_words(self.name):
            return copies.back_up(self._engine, Path(path), now=now or datetime.datetime.now(), progress=progress)

    def export(self, job_id: int, path: str | Path, feature: str | None = None, *, struck: bool = False) -> int:
        """Write a job's readings (CSV, XLSX, Parquet or JSON, by the file's ending); return how many.

        With ``struck`` the struck-out ones too, with their reason. Suspects that wait are written, and marked.

        Raises
        ------
        RecordError
            If the ending is not known, or the file cannot be written.
        """
        import pandas as pd

        from tracker.record.exports import write_export

        found = self.readings(job_id, feature, struck=struck)
        frames = [found.readings, found.suspects.drop(columns=["question", "suggestion"])]
        filled = [frame for frame in frames if len(frame)] or frames[:1]
        return write_export(pd.concat(filled, ignore_index=True), Path(path), found.unit)

    def last_change(self) -> int:
        """Return the number of the last link of the chain: it grows with every row that is kept."""
        from tracker.record.schema import chain as links

        with self._reading() as connection:
            return int(connection.execute(select(links.c.id).order_by(links.c.id.desc()).limit(1)).scalar() or 0)

    def ping(self) -> None:
        """Ask the record for one row.

        Raises
        ------
        RecordError
            If it cannot be read.
        """
        with self._reading() as connection:
            connection.execute(select(1)).scalar_one()
