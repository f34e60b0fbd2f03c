"""Who signed a sheet off, and whether it was for what is there now; the same words on the page and on paper."""

from __future__ import annotations

import dataclasses

from markupsafe import Markup

from dashboard.parts.answers import Answer
from dashboard.sheets.paper import Sheet, tag
from tracker.record import SignOff


def signed_off(answer: Answer, sheet: str, subject: str) -> list[SignOff]:
    """Return who signed a sheet about a fit or feature off, newest first."""
    return [item for item in answer.sign_offs if (item.sheet, item.subject) == (sheet, subject)]


def holds(answer: Answer, item: SignOff) -> bool:
    """Return whether what was signed off is what is there: the same readings, judged by the same revision."""
    return item.latest and item.fingerprint == answer.check.readings.fingerprint


def sign_off_words(answer: Answer, item: SignOff) -> str:
    """Return who signed when, and whether it still holds."""
    said = f"Signed off by {item.by}, {item.at[:16].replace('T', ' ')} UTC, as: {item.verdict}."
    if holds(answer, item):
        return said
    why = "the readings have changed" if item.latest else f"it was by revision {item.revision} of the job"
    return f"{said} It no longer holds: {why}."


def verdict_of(answer: Answer, sheet: str, fit: str) -> str:
    """Return the word that a sheet stands for."""
    found = answer.fit(fit) if sheet in ("bench", "labels") else None
    return answer.check.verdict.word if found is None else found.verdict.word


def with_sign_off(sheet: Sheet, answer: Answer, subject: str) -> Sheet:
    """Return a sheet that says at its foot who signed it off; one that nobody did as it is."""
    lines = [sign_off_words(answer, item) for item in signed_off(answer, sheet.name, subject)[:3]]
    if not lines:
        return sheet
    said = Markup("").join(tag("p", line, look="p-foot p-signed") for line in lines)
    whole = Markup(str(sheet.body).removesuffix("</article>")) + said + Markup("</article>")
    return dataclasses.replace(sheet, body=whole)
