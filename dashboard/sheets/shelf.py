"""Every sheet by name: what it is, and how it is made from a judged job."""

from __future__ import annotations

import datetime

from dashboard.parts.address import Address
from dashboard.parts.answers import Answer
from dashboard.parts.cut import cut_of
from dashboard.sheets.bench import bench_sheet
from dashboard.sheets.closures import closure_sheet
from dashboard.sheets.labels import tray_labels
from dashboard.sheets.paper import Sheet
from dashboard.sheets.report import batch_report
from dashboard.sheets.set_up import set_up_note
from tracker.errors import TrackerError

SHEETS = {
    "bench": "press bench sheet",
    "set-up": "set-up note",
    "labels": "tray labels",
    "closures": "closure sheet",
    "report": "batch report",
}
"""Name of a sheet, and what it is called."""

NEEDS = {"bench": "fit", "set-up": "feature", "labels": "fit", "closures": "closure", "report": "feature"}
"""What a sheet is about; the report is about the whole job when no feature is named."""


def make_sheet(
    answer: Answer, name: str, *, fit: str = "", feature: str = "", by: str = "", when: datetime.datetime | None = None
) -> Sheet:
    """Return a sheet of a judged job.

    Parameters
    ----------
    answer : Answer
    name : str
        One of `SHEETS`.
    fit, feature : str, optional
        What it is about; the first that has something to show when not named.
    by : str, optional
        Who makes the sheet.
    when : datetime.datetime, optional
        The date on it; now when not given.

    Returns
    -------
    Sheet

    Raises
    ------
    TrackerError
        If there is no such sheet, fit or feature.
    """
    at = when or datetime.datetime.now()
    if name not in SHEETS:
        raise TrackerError(f"there is no sheet {name!r}; there are: {', '.join(SHEETS)}")
    _known(fit, [item.name for item in answer.check.fits], "fit")
    _known(feature, [item.name for item in answer.check.features], "feature")
    if name == "report":
        return batch_report(answer, by=by, when=at, feature=feature)
    if name == "set-up":
        cut = cut_of(answer, Address(job=answer.job_id, feature=feature, fit=fit))
        if cut is None:
            raise TrackerError(
                "this job has no feature to cut; give it a [features.NAME] with its kind and its nominal"
            )
        return set_up_note(answer, cut, by=by, when=at)
    if name == "closures":
        if not answer.check.closures:
            raise TrackerError("this job states no closure; accepted is [closures.NAME] with terms and limits")
        return closure_sheet(answer, by=by, when=at)
    found = answer.fit(fit)
    if found is None:
        raise TrackerError(f"the {SHEETS[name]} is about a fit, and this job states none; accepted is [fits.NAME]")
    return (bench_sheet if name == "bench" else tray_labels)(answer, found, by=by, when=at)


def subject_of(answer: Answer, name: str, fit: str = "", feature: str = "") -> str:
    """Return what a sheet is about as it is signed off: the name of its fit or feature, "" for the whole job.

    Raises
    ------
    TrackerError
        If there is no such fit or feature.
    """
    _known(fit, [item.name for item in answer.check.fits], "fit")
    _known(feature, [item.name for item in answer.check.features], "feature")
    if NEEDS[name] == "fit":
        found = answer.fit(fit)
        return "" if found is None else found.name
    if name == "report" or feature:
        return feature
    cut = cut_of(answer, Address(job=answer.job_id, feature=feature, fit=fit))
    return "" if cut is None else cut.found.name


def _known(wanted: str, known: list[str], what: str) -> None:
    if wanted and wanted not in known:
        raise TrackerError(f"there is no {what} {wanted!r} in this job; there are: {', '.join(known) or 'none'}")
