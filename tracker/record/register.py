"""Events, frozen limits of charts, the register of gauges, and what was signed off."""

from __future__ import annotations

import datetime
from typing import Any

from tracker.errors import PeopleError, RecordError
from tracker.record import keeping, views
from tracker.record.connected import Connected
from tracker.record.kinds import Baseline, GaugeInfo, KeptEvent, SignOff
from tracker.record.schema import sign_offs

Moment = datetime.datetime | None


class Register(Connected):
    """What is entered beside the readings."""

    def add_event(
        self,
        job_id: int,
        feature: str,
        after_piece: str,
        event: str,
        amount: float | None = None,
        *,
        batch: str = "",
        note: str = "",
        client_id: str | None = None,
        by: str = "",
        now: Moment = None,
    ) -> int:
        """Keep an event (tool_change, offset_change, dressing, setup) after a piece; return its number."""
        with self._writing() as ledger:
            latest = self._revisions.latest(ledger.connection, job_id)
            return keeping.keep_event(
                ledger, latest, feature, after_piece, event, amount, batch, note, client_id, by, keeping.utc(now)
            )

    def events(self, job_id: int, feature: str | None = None) -> list[KeptEvent]:
        """Return the events of a job in the order they were kept."""
        with self._reading() as connection:
            return views.kept_events(connection, job_id, feature)

    def freeze_baseline(
        self,
        job_id: int,
        feature: str,
        chart: str,
        *,
        centre: float,
        sd: float,
        pieces: int,
        first_piece: str = "",
        last_piece: str = "",
        note: str = "",
        by: str = "",
        now: Moment = None,
    ) -> Baseline:
        """Freeze the limits of a chart; the latest of a feature and chart is used from now on."""
        with self._writing() as ledger:
            latest = self._revisions.latest(ledger.connection, job_id)
            span = (pieces, first_piece, last_piece)
            keeping.keep_baseline(ledger, latest, feature, chart, centre, sd, span, note, by, keeping.utc(now))
            found = views.latest_baseline(ledger.connection, job_id, feature, chart)
            if found is None:
                raise RecordError("the baseline that was just kept is not there")
            return found

    def baseline(self, job_id: int, feature: str, chart: str) -> Baseline | None:
        """Return the frozen limits of a chart, None where none were frozen."""
        with self._reading() as connection:
            return views.latest_baseline(connection, job_id, feature, chart)

    def add_gauge(
        self,
        name: str,
        *,
        unit: str = "in",
        serial: str = "",
        resolution: float | None = None,
        calibration: float | None = None,
        correction: float | None = None,
        calibrated: datetime.date | None = None,
        due: datetime.date | None = None,
        note: str = "",
        by: str = "",
        now: Moment = None,
    ) -> int:
        """Enter a gauge or a new calibration of it; the last entry of a name is the one that holds."""
        if not name.strip():
            raise RecordError("a gauge needs a name, such as: tenths micrometer")
        numbers = [
            keeping.finite(value, what)
            for value, what in ((resolution, "resolution"), (calibration, "calibration"), (correction, "correction"))
        ]
        dates = ["" if day is None else day.isoformat() for day in (calibrated, due)]
        with self._writing() as ledger:
            row: tuple[Any, ...] = (name.strip(), serial, unit, *numbers, *dates, note, by, keeping.utc(now))
            number = keeping.keep_gauge(ledger, row)
        self._revisions.forget()
        return number

    def gauges(self) -> list[GaugeInfo]:
        """Return the register of gauges, by name."""
        with self._reading() as connection:
            return views.gauge_infos(connection)

    def sign_off(
        self,
        job_id: int,
        sheet: str,
        subject: str,
        fingerprint: str,
        verdict: str,
        *,
        note: str = "",
        by: str = "",
        now: Moment = None,
    ) -> SignOff:
        """Keep that someone looked at a sheet and stands for it, for the readings of a fingerprint.

        The same again by the same person is once.

        Raises
        ------
        PeopleError
            If nobody is named: a sign-off without a name says nothing.
        """
        if not by.strip():
            raise PeopleError("a sign-off needs the name of who signs; sign in first")
        with self._writing() as ledger:
            latest = self._revisions.latest(ledger.connection, job_id)
            same = (sheet, subject, latest.number, fingerprint, verdict, by)
            for found in views.kept_sign_offs(ledger.connection, job_id):
                if (found.sheet, found.subject, found.revision, found.fingerprint, found.verdict, found.by) == same:
                    return found
            row = (job_id, latest.id, sheet, subject, fingerprint, verdict, note.strip(), by, keeping.utc(now))
            ledger.append(sign_offs, [row])
            return views.kept_sign_offs(ledger.connection, job_id)[0]

    def sign_offs(self, job_id: int) -> list[SignOff]:
        """Return what was signed off of a job, newest first."""
        with self._reading() as connection:
            return views.kept_sign_offs(connection, job_id)
