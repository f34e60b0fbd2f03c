"""What goes on paper: the sheets of a job as they will be printed."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.figures.numbers import typeset
from dashboard.parts.address import Address
from dashboard.parts.answers import Answer
from dashboard.parts.badge import form_of
from dashboard.parts.cut import cut_of
from dashboard.parts.panels import Page, chooser, empty
from dashboard.people.door import person
from dashboard.people.rights import SIGNS_OFF
from dashboard.sheets.closures import closures_said
from dashboard.sheets.portable import can_make_pdf
from dashboard.sheets.shelf import NEEDS, SHEETS, subject_of
from dashboard.sheets.signing import holds, sign_off_words, signed_off
from tracker.judge import plain_name
from tracker.record import may

QUESTION = "What goes on paper?"
FOR = {
    "bench": "For the press: which goes into which, with what force, and what to take care of.",
    "set-up": "For the machine: what is entered before the next cut, or that nothing is.",
    "labels": "For the trays: cut out and laid in.",
    "closures": "For the bench: which pieces together, the sum they make, and whether it is within its limits.",
    "report": "For the file: every size, and what they say.",
}
TO_DO = {
    "closures": "State on the job's form which lengths make a sum, such as head height minus counterbore depth, and its"
    " limits."
}


def page(answer: Answer, address: Address) -> Page:
    """Return the page of the sheets of one job."""
    name = address.sheet if address.sheet in SHEETS else "bench" if answer.check.fits else "report"
    here = address.to(sheet=name)
    choosers = [chooser("sheet", [(words, address.to(sheet=key)) for key, words in SHEETS.items()], SHEETS[name])]
    about, missing = _about(answer, here, name, choosers)
    if missing:
        return Page(
            question=QUESTION,
            answer=f"No {SHEETS[name]} yet.",
            reasons=[missing],
            word="cannot say",
            choosers=choosers,
            job=answer.check.job,
            body=[empty("What to do", TO_DO.get(name, answer.check.verdict.action))],
        )
    return Page(
        question=QUESTION,
        answer=_said(answer, about, name),
        reasons=[FOR[name]],
        choosers=choosers,
        body=[html.Div([_side(answer, about, name), _room(answer, about, name)], className="sheet-columns")],
        job=answer.check.job,
    )


def _about(answer: Answer, here: Address, name: str, choosers: list[Any]) -> tuple[Address, str]:
    """Return the address of the sheet with what it is about filled in, and what is missing; adds a chooser."""
    if NEEDS[name] == "fit":
        fit = answer.fit(here.fit)
        if fit is None:
            return here, "This sheet is about a fit, and this job states none."
        options = [(plain_name(item.name), here.to(fit=item.name)) for item in answer.check.fits]
        choosers.append(chooser("fit", options, plain_name(fit.name)))
        return here.to(fit=fit.name), ""
    if NEEDS[name] == "closure":
        return here, "" if answer.check.closures else "This sheet is about closures, and this job states none."
    features = [(plain_name(item.name), here.to(feature=item.name)) for item in answer.check.features]
    if not features:
        return here, "This job has no feature."
    if name == "report":
        known = here.feature in {item.name for item in answer.check.features}
        chosen = plain_name(here.feature) if known else "whole job"
        choosers.append(chooser("part", [("whole job", here.to(feature="")), *features], chosen))
        return here if known else here.to(feature=""), ""
    cut = cut_of(answer, here)
    assert cut is not None
    choosers.append(chooser("part", features, plain_name(cut.found.name)))
    return here.to(feature=cut.found.name), ""


def _said(answer: Answer, about: Address, name: str) -> str:
    fit = answer.fit(about.fit)
    if name == "bench" and fit is not None:
        ready = form_of(fit.verdict.word) == "go" or fit.verdict.word == "sort"
        return "The press bench sheet is ready." if ready else "The press bench sheet says: not yet."
    if name == "set-up":
        cut = cut_of(answer, about)
        if cut is None or cut.shift is None:
            return "The set-up note says what is missing."
        return "The set-up note says: enter nothing." if cut.shift.leave_alone else "The set-up note is ready."
    if name == "labels" and fit is not None and not fit.pairs and fit.classes is None:
        return "There is nothing to label yet."
    if name == "closures":
        return closures_said(answer)
    return f"The {SHEETS[name]} {'are' if name == 'labels' else 'is'} ready."


def _bar(about: Address, name: str) -> html.Section:
    def to(ending: str, **more: str) -> str:
        extra = "".join(f"&{key}={value}" for key, value in more.items())
        return f"/sheets/{name}.{ending}{about.to(page='', sheet='', ideas=()).query}{extra}"

    links: list[Any] = [
        html.A("Open to print", href=to("html"), target="_blank", rel="noopener", className="button strong")
    ]
    if can_make_pdf():
        links += [
            html.A("PDF, A4", href=to("pdf", paper="a4", file="1"), className="button", download=""),
            html.A("PDF, Letter", href=to("pdf", paper="letter", file="1"), className="button", download=""),
        ]
    links.append(html.A("HTML", href=to("html", file="1"), className="button", download=""))
    if not can_make_pdf():
        links.append(html.P("PDF needs the extra 'sheets': pip install 'tenthwise[sheets]'. Printing works without."))
    said = html.P("What is shown is what is printed. Each sheet carries the fingerprint of its readings.")
    return html.Section([html.H2("Print or keep"), said, *links], className="panel sheet-bar")


def _side(answer: Answer, about: Address, name: str) -> html.Div:
    signing = _signing(answer, about, name)
    return html.Div([_bar(about, name), *([signing] if signing is not None else [])], className="sheet-side")


def _signing(answer: Answer, about: Address, name: str) -> html.Section | None:
    """Return who signed this sheet off, and the button for who may; None where nobody did and nobody may."""
    subject = subject_of(answer, name, about.fit, about.feature)
    found = signed_off(answer, name, subject)
    me = person()
    may_sign = me is not None and may(me.role, SIGNS_OFF)
    if not found and not may_sign:
        return None
    valid = [item for item in found if holds(answer, item)]
    title = "Signed off" if valid else "Signed off before, not as it is now" if found else "Not signed off yet"
    lines = html.Ul([html.Li(typeset(sign_off_words(answer, item))) for item in found[:4]], className="notes")
    parts: list[Any] = [lines] if found else []
    if may_sign and me is not None and me.name not in {item.by for item in valid}:
        data = {
            "data-sign-off": f"/api/jobs/{answer.job_id}/sign-offs",
            "data-sheet-name": name,
            "data-fit": about.fit if NEEDS[name] == "fit" else "",
            "data-feature": subject if NEEDS[name] == "feature" else "",
            "data-fingerprint": answer.check.readings.fingerprint,
        }
        parts.append(html.P(f"You stand for it as {me.name}: the readings as they are, and the verdict above."))
        parts.append(html.Button("sign it off", type="button", className="button strong", **data))
        parts.append(html.P("", className="sign-off-said", role="status"))
    return html.Section([html.H2(title), *parts], className="panel sheet-bar")


def _room(answer: Answer, about: Address, name: str) -> html.Section:
    source = f"/sheets/{name}.part{about.to(page='', sheet='', ideas=()).query}"
    signed = signed_off(answer, name, subject_of(answer, name, about.fit, about.feature))
    if signed:
        source += f"&signed={signed[0].id}"  # the preview is fetched again when someone signs
    return html.Section(
        className="sheet-room",
        **{"data-sheet": source, "aria-label": f"the {SHEETS[name]}, as it is printed"},
    )
