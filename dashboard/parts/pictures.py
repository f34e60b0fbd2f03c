"""Every picture by name: from an answer and an address to a drawing at a width, and the route that serves it."""

from __future__ import annotations

from collections.abc import Callable

from flask import Blueprint, Response, request

from dashboard.figures.drawing import Drawing
from dashboard.figures.guard_bands import guard_bands
from dashboard.figures.leave_alone import leave_alone
from dashboard.figures.next_twenty import next_twenty
from dashboard.figures.pieces import pieces
from dashboard.figures.shares import shares
from dashboard.figures.tape import tape
from dashboard.figures.tapes import tapes
from dashboard.figures.two_batches import two_batches
from dashboard.figures.ways import way_names, ways_of, ways_picture
from dashboard.parts.address import Address, read_address
from dashboard.parts.answers import Answer, Answers
from dashboard.parts.chosen_way import chosen_way
from dashboard.parts.cut import cut_of
from dashboard.parts.gauging import drawn_rows, gauges_of
from dashboard.parts.what_if import fit_if
from tracker.drift import Signal, Watched, watch_runs
from tracker.errors import NotEnoughData, TrackerError
from tracker.judge import FeatureCheck, plain_name
from tracker.spread import Prediction, predict

LEAST, MOST = 200, 2000
FILE_WIDTH = 900

MOST_LISTED = 400
"""Pieces of a batch that a page lists with their readings."""

Picture = Callable[[Answer, Address, float], Drawing | None]


def batches_picture(answer: Answer, address: Address, width: float) -> Drawing | None:
    """Both batches of a fit on one scale."""
    fit = answer.fit(address.fit)
    if fit is None:
        return None
    inner, outer = answer.check.feature(fit.internal), answer.check.feature(fit.external)
    return two_batches(fit, inner, outer, answer.numbers(fit.internal, fit.external), width)


def pieces_picture(answer: Answer, address: Address, width: float) -> Drawing | None:
    """The pieces of one feature with their readings against the limits."""
    found = answer.feature(address.feature)
    if found is None or found.sizes is None:
        return None
    return pieces(found, values_of(answer, found.name), answer.numbers(found.name), width, ahead=ahead_of(found))


def values_of(answer: Answer, feature: str) -> dict[str, list[float]]:
    """Return the readings of each piece of a feature (of very many the first); goes / does not go results are none."""
    frame = answer.readings.readings
    there = (frame["feature"] == feature).to_numpy() & (frame["kind"] != "go_no_go").to_numpy()
    found = answer.check.feature(feature)
    if found.sizes is not None and len(found.sizes) > MOST_LISTED:
        there &= frame["piece"].isin(found.sizes.piece[:MOST_LISTED]).to_numpy()
    own = frame.loc[there, ["piece", "value"]]
    values: dict[str, list[float]] = {}
    for piece, value in zip(own["piece"].tolist(), own["value"].tolist()):
        values.setdefault(piece, []).append(value)
    return values


def ahead_of(found: FeatureCheck) -> Prediction | None:
    """Return where the next piece would lie; None where too little is measured to say."""
    if found.sizes is None:
        return None
    try:
        return predict(found.sizes, found.lower, found.upper)
    except NotEnoughData:
        return None


def shares_picture(answer: Answer, address: Address, width: float) -> Drawing | None:
    """What the spread of one feature is made of."""
    found = answer.feature(address.feature)
    return None if found is None or found.components is None else shares(found, answer.numbers(found.name), width)


def next_picture(answer: Answer, address: Address, width: float) -> Drawing | None:
    """The next twenty pieces as the machine stands and after the shift."""
    cut = cut_of(answer, address)
    if cut is None or cut.shift is None or cut.found.sizes is None:
        return None
    return next_twenty(
        cut.found, cut.shift, cut.lower, cut.upper, answer.numbers(cut.found.name), width, mated=cut.fit is not None
    )


def alone_picture(answer: Answer, address: Address, width: float) -> Drawing | None:
    """The shift wanted of each feature against what would be chasing noise."""
    cut = cut_of(answer, address)
    if cut is None or cut.shift is None:
        return None
    rows = [(plain_name(cut.found.name), cut.shift)]
    rows += [
        (plain_name(item.name), item.shift)
        for item in answer.check.features
        if item.shift is not None and item.name != cut.found.name
    ]
    return leave_alone(rows, answer.numbers(), width)


def tape_picture(answer: Answer, address: Address, width: float) -> Drawing | None:
    """Size against the order of making, cut at every event."""
    found = answer.feature(address.feature)
    if found is None or found.sizes is None:
        return None
    tool = answer.job.features[found.name].machine.tool
    return tape(found, answer.numbers(found.name), width, tool=tool, signals=signals_of(found))


def watched_of(found: FeatureCheck) -> Watched:
    """Return what stands out in one feature, run by run.

    Raises
    ------
    NotEnoughData
        If there is no spread to hold it against.
    """
    if found.sizes is None:
        raise NotEnoughData(f"no {plain_name(found.name)} is measured")
    return watch_runs(found.sizes.size, found.events, found.wear)


def signals_of(found: FeatureCheck) -> tuple[Signal, ...]:
    """Return the signals of one feature; none where they cannot be looked for."""
    try:
        return watched_of(found).signals
    except NotEnoughData:
        return ()


def plan_picture(answer: Answer, address: Address, width: float) -> Drawing | None:
    """The ways to go on: what they cost against the assemblies expected good."""
    own = answer.fit(address.fit)
    if own is None:
        return None
    fit = fit_if(answer, own, address.ideas)
    if fit.plan is None:
        return None
    asked = 1 - fit.plan.assurance
    chosen = way_names(fit)[chosen_way(fit, fit.plan, asked).name]
    return ways_picture(ways_of(fit), fit.plan.wanted, asked, width, chosen=chosen)


def guard_picture(answer: Answer, address: Address, width: float) -> Drawing | None:
    """What the gauges leave of the tolerances."""
    rows = drawn_rows(gauges_of(answer))
    return guard_bands(rows, [answer.numbers(item.feature) for item, _ in rows], width) if rows else None


PICTURES: dict[str, Picture] = {
    "batches": batches_picture,
    "pieces": pieces_picture,
    "shares": shares_picture,
    "next-twenty": next_picture,
    "leave-alone": alone_picture,
    "tape": tape_picture,
    "ways": plan_picture,
    "guard-bands": guard_picture,
}


def tapes_picture(answers: Answers, address: Address, width: float) -> Drawing | None:
    """The batches of the whole record, a tape for each machine, part, tool or operator."""
    return tapes(answers.back.at(address).wall, width)


OF_THE_RECORD: dict[str, Callable[[Answers, Address, float], Drawing | None]] = {"tapes": tapes_picture}


def picture_routes(answers: Answers) -> Blueprint:
    """Return the route ``/pictures/<name>.svg`` with the state of a page and a width; ``file`` names a theme."""
    routes = Blueprint("pictures", __name__)

    @routes.get("/pictures/<name>.svg")
    def drawn(name: str) -> Response:
        known, whole = PICTURES.get(name), OF_THE_RECORD.get(name)
        address = read_address("", request.query_string.decode("utf-8", "replace"))
        if whole is None and (known is None or address.job is None):
            return Response(f"there is no picture {name!r} of that", 404, mimetype="text/plain")
        file = request.args.get("file", "")
        try:
            width = FILE_WIDTH if file else min(max(int(request.args.get("width", FILE_WIDTH)), LEAST), MOST)
        except ValueError:
            return Response("width is a whole number of pixels", 400, mimetype="text/plain")
        try:
            if whole is not None:
                drawing = whole(answers, address, width)
            else:
                assert known is not None
                assert address.job is not None
                drawing = known(answers.of(address.job, address.unit), address, width)
        except TrackerError as error:
            return Response(str(error), 404, mimetype="text/plain")
        if drawing is None:
            return Response("there is nothing to draw yet", 404, mimetype="text/plain")
        text = drawing.svg(file if file in ("light", "dark") else ("light" if file else None))
        return Response(text, mimetype="image/svg+xml")

    return routes
