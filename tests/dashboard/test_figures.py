"""Figures are pure functions of results: they state a finding, stay inside their frame, and are whole SVG."""

import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from scipy import stats

from dashboard.figures.band import band_over
from dashboard.figures.drawing import Drawing, width_of
from dashboard.figures.leave_alone import leave_alone
from dashboard.figures.next_twenty import next_twenty, outside, predicted_sizes
from dashboard.figures.numbers import Numbers
from dashboard.figures.tape import stretches, tape
from dashboard.figures.two_batches import batches_title
from dashboard.parts.address import Address
from dashboard.parts.pictures import PICTURES, signals_of

SVG = "{http://www.w3.org/2000/svg}"
JOBS = ["rest_buttons", "guide_pins", "coupling_pins"]
WIDTHS = [338, 640, 902]


def parsed(drawing: Drawing, theme=None):
    """Return the root of the drawing's SVG."""
    return ElementTree.fromstring(drawing.svg(theme))


@pytest.mark.parametrize("unit", ["in", "mm"])
@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("job", JOBS)
@pytest.mark.parametrize("name", PICTURES)
def test_every_picture_stays_in_its_frame(sample, name, job, width, unit):
    answer = sample(job, unit)
    drawing = PICTURES[name](answer, Address(job=answer.job_id), width)
    assert drawing is not None
    root = parsed(drawing)
    assert root.get("aria-label").startswith(drawing.title)
    assert not drawing.title.endswith(".")
    for line in root.iter(f"{SVG}line"):
        if line.get("class") and not line.get("class").startswith(("boreline", "greyline")):
            xs = [float(line.get(end)) for end in ("x1", "x2")]
            ys = [float(line.get(end)) for end in ("y1", "y2")]
            assert min(xs) >= -7 and max(xs) <= drawing.width + 12
            assert min(ys) >= -7 and max(ys) <= drawing.height + 12
    assert "nan" not in drawing.svg().lower().replace("nance", "")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_a_file_stands_by_itself(sample, theme):
    answer = sample("rest_buttons")
    drawing = PICTURES["batches"](answer, Address(job=answer.job_id), 900)
    root = parsed(drawing, theme)
    assert root.find(f"{SVG}title").text == drawing.title
    assert "var(--" not in drawing.svg(theme)
    assert re.fullmatch(r"[a-z0-9-]+", drawing.file_name)


def test_names_are_written_as_text_never_as_markup():
    drawing = Drawing(300, 40, '<b>"two" & more</b>', "how")
    drawing.text(2, 20, "<script>alert(1)</script>")
    root = parsed(drawing)
    assert [item.text for item in root.iter(f"{SVG}text")] == ["<script>alert(1)</script>"]
    assert parsed(drawing, "light").find(f"{SVG}title").text == '<b>"two" & more</b>'


def test_titles_state_how_two_batches_stand(sample):
    answer = sample("guide_pins")
    fit = answer.check.fits[0]
    pin, bushing = answer.check.feature(fit.external), answer.check.feature(fit.internal)
    numbers = Numbers("in", 0.0001)
    assert batches_title(fit, bushing, pin, numbers).startswith("Every pin is smaller than every bushing, by ")
    assert batches_title(fit, replace(bushing, sizes=None), pin, numbers) == "Only the pins are measured"


@pytest.mark.parametrize("width", [330, 640, 902])
@pytest.mark.parametrize("unit", ["in", "mm"])
@pytest.mark.parametrize("job", ["rest_buttons", "guide_pins", "coupling_pins", "depth_stops", "lid_dowels"])
def test_the_bar_of_the_gaps_wanted_is_named_wherever_it_is_drawn(sample, job, unit, width):
    answer = sample(job, unit)
    root = parsed(PICTURES["batches"](answer, Address(job=answer.job_id), width))
    bars = [line for line in root.iter(f"{SVG}line") if line.get("class") == "rule"]
    words = [text for text in root.iter(f"{SVG}text") if (text.text or "").startswith("wanted")]
    assert len(bars) == len(words) == 1
    others = [text for text in root.iter(f"{SVG}text") if text is not words[0]]
    assert all(abs(float(text.get("y")) - float(words[0].get("y"))) >= 14 for text in others)


@pytest.mark.parametrize("width", [330, 368])
def test_a_long_name_is_written_whole_in_leave_it_alone(sample, width):
    shift = sample("guide_pins").check.features[0].shift or sample("rest_buttons").check.features[1].shift
    name = "hardened and ground rest button shank diameter of the second line"
    numbers = sample("guide_pins").numbers()
    root = parsed(leave_alone([(name, shift), ("bore", shift)], numbers, width))
    words = [text for text in root.iter(f"{SVG}text") if text.get("class") == "wb"]
    assert " ".join(text.text for text in words[:-1]) == f"{name}s"
    assert all(float(text.get("x")) + width_of(text.text, "wb") <= width for text in words)
    tops = [float(text.get("y")) for text in words]
    assert tops == sorted(set(tops))


def test_the_next_twenty_are_a_predictive_t(sample):
    shift = sample("rest_buttons").check.fits[0].shift
    found = predicted_sizes(shift)
    wanted = stats.t(shift.dof, shift.target + shift.bias.estimate, shift.sd * np.sqrt(1 + 1 / shift.n))
    np.testing.assert_allclose(found, wanted.ppf((np.arange(20) + 0.5) / 20), rtol=1e-12)


def test_struck_dots_are_those_outside():
    sizes = np.array([0.5, 1.0, 2.0, 3.5])
    assert outside(sizes, 1.0, 3.0) == (1, 1)
    assert outside(sizes, None, None) == (0, 0)


def test_as_many_dots_as_said_whichever_side(sample):
    answer = sample("rest_buttons")
    found, shift = answer.check.feature("shank"), answer.check.fits[0].shift
    drawing = next_twenty(found, shift, 0.6258, 0.6262, answer.numbers("shank"))
    root = parsed(drawing)
    whole = [item for item in root.iter(f"{SVG}circle") if item.get("class") == "shankdot"]
    struck = [item for item in root.iter(f"{SVG}circle") if item.get("class") == "open"]
    assert len(whole) + len(struck) == 40
    before, after = predicted_sizes(shift), predicted_sizes(shift) + shift.change
    assert len(struck) == sum(outside(before, 0.6258, 0.6262)) + sum(outside(after, 0.6258, 0.6262))


def test_labels_of_a_scale_never_touch():
    for width in (120, 338, 900, 1400):
        for high in (0.6252, 0.6262, 0.6350, 0.70):
            band = band_over([0.6250, high], 2, width, 0.6250, Numbers("in", 0.0001))
            longest = len(f"+{(high - 0.6250) * 10000 + 1:.0f}") + (0 if band.label_step() >= 1 else 2)
            assert band.label_step() * band.pixels >= longest * 9


def test_the_tape_is_cut_at_events_and_loses_no_piece(sample):
    answer = sample("coupling_pins")
    found = answer.check.feature("pin")
    runs = stretches(found)
    assert [run.event for run in runs] == ["", "dressing"]
    assert sum(run.last - run.first + 1 for run in runs) == len(found.sizes)
    assert stretches(replace(found, events=()))[0].last == len(found.sizes)


@pytest.mark.parametrize("width", WIDTHS)
def test_what_stands_out_is_bracketed_at_the_side_and_said_in_words(sample, width):
    answer = sample("rest_buttons")
    found = many_of(answer.check.feature("shank"), 60)
    size = found.sizes.size.copy()
    size[29] += 0.01
    found = replace(found, sizes=replace(found.sizes, size=size), events=((20, "offset change"),))
    signals = [item for item in signals_of(found) if item.first == item.last == 30]
    assert [item.name for item in signals] == ["one point beyond 3 sigma"]
    plain = parsed(tape(found, answer.numbers("shank"), width))
    root = parsed(tape(found, answer.numbers("shank"), width, signals=signals))
    said = " ".join(item.text for item in root.iter(f"{SVG}text"))
    assert "shank 30: one point beyond 3 sigma, on the large side" in said
    paths = [sum(item.get("class") == "whisker" for item in each.iter(f"{SVG}path")) for each in (plain, root)]
    assert paths == [0, 1]
    assert float(root.get("height")) >= max(float(item.get("y")) for item in root.iter(f"{SVG}text"))


def many_of(found, pieces):
    """Return the same batch with many pieces: its own sizes again and again, a little apart."""
    sizes = found.sizes
    size = np.resize(sizes.size, pieces) + np.linspace(0, 1e-5, pieces)
    known = {
        name: np.resize(getattr(sizes, name), pieces)
        for name in ("uncertainty", "readings", "within_range", "low", "high")
    }
    names = tuple(str(index + 1) for index in range(pieces))
    return replace(found, sizes=replace(sizes, piece=names, size=size, **known), wear=None)


@pytest.mark.parametrize("pieces", [60, 5000, 100_000])
def test_however_many_pieces_a_figure_stays_light(sample, pieces):
    from dashboard.figures.pieces import pieces as pieces_figure
    from dashboard.figures.two_batches import two_batches

    answer = sample("rest_buttons")
    fit, numbers = answer.check.fits[0], answer.numbers()
    bore, shank = (many_of(answer.check.feature(name), pieces) for name in ("bore", "shank"))
    for drawing in (
        two_batches(fit, bore, shank, numbers),
        pieces_figure(shank, {}, numbers),
        tape(shank, numbers),
    ):
        assert len(drawing.parts) < 5000
        assert drawing.height < 4000
        parsed(drawing)
