"""What the drawing says: job.toml read whole, every fault named at once, none guessed away."""

import datetime
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.cuts import CONVENTIONS
from tracker.errors import JobError
from tracker.job import KINDS, Job, load_job, parse_job
from tracker.judge.words import machine_words

JOB = """
[job]
name = "Leak-test nest, rest buttons"
unit = "in"
assurance = 0.95

[features.bore]
kind = "internal"
nominal = 0.6250
lower = 0.6250
upper = 0.6257
gauge = "bore gauge"

[features.shank]
kind = "external"
nominal = 0.6256
target = 0.6256
gauge = "tenths micrometer"
machine = { offset_on = "radius", increment = 0.0001, plus_makes = "smaller" }

[features.head_height]
kind = "length"
nominal = "12.7 mm"

[fits.button_in_plate]
internal = "bore"
external = "shank"
gap = [-0.0009, -0.0003]

[closures.stand]
terms = { head_height = 1, bore = -1 }
limits = [-0.13, "open"]

[gauges."bore gauge"]
resolution = "0.0001 in"
calibration = "0.5 um"
correction = -0.0001
due = 2026-09-30
range = [0.5, 1]

[gauges."tenths micrometer"]
resolution = 0.0001

[costs]
press = 1.0
rework = { shank = 4.0 }
spoiled_assembly = 120
"""


def test_a_job_is_read_as_the_drawing_says_it():
    job = parse_job(JOB)
    assert (job.name, job.unit, job.assurance, job.remarks) == ("Leak-test nest, rest buttons", "in", 0.95, ())
    bore, shank = job.features["bore"], job.features["shank"]
    assert (bore.kind, bore.nominal, bore.lower, bore.upper, bore.aim) == (
        "internal",
        0.625,
        0.625,
        0.6257,
        pytest.approx(0.62535),
    )
    assert (shank.lower, shank.upper, shank.aim) == (None, None, 0.6256)
    assert (shank.machine.offset_on, shank.machine.plus_makes, shank.machine.increment) == ("radius", "smaller", 0.0001)
    assert job.features["head_height"].nominal == 0.5
    fit = job.fits["button_in_plate"]
    assert (fit.gap_lower, fit.gap_upper, fit.aim) == (-0.0009, -0.0003, pytest.approx(-0.0006))
    stand = job.closures["stand"]
    assert (dict(stand.terms), stand.lower, stand.upper) == ({"head_height": 1.0, "bore": -1.0}, -0.13, None)
    gauge = job.gauge_of("bore")
    assert (gauge.resolution, gauge.correction, gauge.low, gauge.high) == (0.0001, -0.0001, 0.5, 1.0)
    assert gauge.calibration == pytest.approx(0.0005 / 25.4)
    assert gauge.due == datetime.date(2026, 9, 30)
    assert job.gauge_of("head_height") is None
    assert (job.costs.press, dict(job.costs.rework), job.costs.spoiled_assembly) == (1.0, {"shank": 4.0}, 120.0)


def test_a_folder_or_the_file_itself(tmp_path):
    (tmp_path / "job.toml").write_bytes(b"\xef\xbb\xbf" + JOB.encode())
    assert load_job(tmp_path) == load_job(tmp_path / "job.toml") == load_job(str(tmp_path))
    assert load_job(tmp_path).folder == tmp_path
    with pytest.raises(JobError, match=r"there is no job at.*accepted is a folder that holds a job\.toml"):
        load_job(tmp_path / "nowhere")
    (tmp_path / "job.toml").write_bytes(b"name = \xff")
    with pytest.raises(JobError, match="not UTF-8"):
        load_job(tmp_path)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('unit = "in"', "", 'no unit; accepted is unit = "in" or unit = "mm"'),
        ('unit = "in"', 'unit = "furlong"', "unit is 'furlong'"),
        ('unit = "in"', "unit = 3", "unit is 3"),
        ("assurance = 0.95", "assurance = 95", "a share from 0.5 to under 1"),
        ("assurance = 0.95", "decimal_comma = 'false'", "true or false, without quotes"),
        ("assurance = 0.95", "temperature = 'warm'", "temperature is warm; accepted is a number"),
        ("assurance = 0.95", "temperature = 1" + "0" * 400, "accepted is a number"),
        ('kind = "internal"', 'kind = "inside"', "accepted is internal or external or length"),
        ('kind = "internal"', "kind = ['internal']", "accepted is internal or external or length"),
        ("upper = 0.6257", "upper = 0.6243", "the lower limit 0.625 is not under the upper limit 0.6243; swap them"),
        ('nominal = "12.7 mm"\n', "", "has no nominal"),
        ("nominal = 0.6256\n", "nominal = nan\n", "nominal"),
        ("nominal = 0.6256\n", "nominal = -0.6256\n", "a size above zero"),
        ("nominal = 0.6256\n", "nominal = 1" + "0" * 400 + "\n", "nominal"),
        ("nominal = 0.6256\n", "nominal = '0,6256'\n", "comma"),
        ("nominal = 0.6256\n", "nominal = true\n", "nominal"),
        ("nominal = 0.6256\n", "nominal = 0.6256\nmaster = 0\n", "master is 0; accepted is a length above zero"),
        ("nominal = 0.6256\n", "nominal = 0.6256\npositions = 3\n", "positions is 3"),
        ("nominal = 0.6256\n", "nominal = 0.6256\nrepeats = 0\n", "accepted is a whole number from 1"),
        ('internal = "bore"', 'internal = "hole"', "'hole', which is no feature of this job; there are: bore, shank"),
        ('internal = "bore"', 'internal = ["bore"]', "no feature of this job"),
        ('internal = "bore"', 'internal = "shank"', "which is of kind external"),
        ('internal = "bore"\n', "", "has no internal"),
        ("gap = [-0.0009, -0.0003]", "gap = [-0.0003, -0.0009]", "swap them"),
        ("gap = [-0.0009, -0.0003]", "gap = ['open', 'open']", "open at both ends"),
        ("gap = [-0.0009, -0.0003]", "gap = -0.0009", "accepted is [lower, upper]"),
        ("gap = [-0.0009, -0.0003]", "", "neither gap nor class"),
        ("gap = [-0.0009, -0.0003]", "gap = [0.0, 0.1]\nclass = 'FN2'", "both gap and class"),
        ("head_height = 1, bore = -1", "bore = 0", "accepted is a number such as 1 or -1"),
        ("head_height = 1, bore = -1", "", "has no terms"),
        ('limits = [-0.13, "open"]', "", "limits is None"),
        ('resolution = "0.0001 in"', "resolution = 0", "resolution is 0; accepted is a length above zero"),
        ("due = 2026-09-30", "due = 'soon'", "accepted is a date such as 2026-09-30"),
        ("press = 1.0", "press = -1.0", "accepted is 0 or more"),
        ("rework = { shank = 4.0 }", "rework = { lid = 4.0 }", "rework names 'lid'"),
        ('[fits.button_in_plate]\ninternal = "bore"', "[fits]\nbutton_in_plate = 3", "accepted is a table"),
    ],
)
def test_every_fault_is_named(old, new, words):
    assert old in JOB
    with pytest.raises(JobError) as caught:
        parse_job(JOB.replace(old, new, 1))
    assert words in str(caught.value)


def test_a_closure_of_features_that_are_not_there_is_passed_over_and_said():
    job = parse_job(JOB.replace("head_height = 1, bore = -1", "lid = 1, bore = -1", 1))
    assert not job.closures
    assert any("was passed over: it names lid" in remark for remark in job.remarks)


def test_texts_in_a_job_with_a_decimal_comma_may_have_a_point_or_a_comma():
    job = parse_job(
        '[job]\nunit = "mm"\ndecimal_comma = true\n[features.bore]\nkind = "internal"\n'
        'nominal = "0.625 in"\nlower = "15,8 mm"\n'
    )
    assert (job.features["bore"].nominal, job.features["bore"].lower) == (15.875, 15.8)


def test_all_faults_are_named_at_once():
    broken = JOB.replace('unit = "in"', 'unit = "yd"').replace('"internal"\n', '"inside"\n').replace("0.6257", "0.6")
    with pytest.raises(JobError, match="3 faults") as caught:
        parse_job(broken)
    assert len(str(caught.value).splitlines()) == 4


@pytest.mark.parametrize("text", ["", "[job]\nunit = 'in'\n", "[[[", "a = " + "[" * 20_000, "\0", "[job]\n[job]\n"])
def test_what_is_no_job_is_refused(text):
    with pytest.raises(JobError):
        parse_job(text)


def test_what_is_not_known_is_remarked_with_what_was_meant():
    job = parse_job(JOB.replace("upper = 0.6257", "upper = 0.6257\nuper = 0.6\ncolour = 'blue'", 1))
    assert "did you mean upper?" in job.remarks[0]
    assert "'colour'" in job.remarks[1]
    assert parse_job(JOB.replace('[gauges."tenths micrometer"]', "[gauges.other]")).remarks


def test_a_class_and_a_grade_are_looked_up():
    text = JOB.replace("gap = [-0.0009, -0.0003]", "class = 'FN2'").replace('unit = "in"', 'unit = "in"', 1)
    fit = parse_job(text).fits["button_in_plate"]
    assert fit.gap_upper < 0 < -fit.gap_lower  # FN2 is an interference fit
    metric = parse_job('[job]\nunit="mm"\n[features.b]\nkind="internal"\nnominal=25\ngrade="H7"\n')
    assert (metric.features["b"].lower, metric.features["b"].upper) == (25.0, pytest.approx(25.021))  # ISO 286-2, 25H7


def test_inch_and_millimetre_give_the_same_drawing():
    inch = parse_job('[job]\nunit="in"\n[features.b]\nkind="internal"\nnominal="15.875 mm"\nlower="15.870 mm"\n')
    metric = parse_job('[job]\nunit="mm"\n[features.b]\nkind="internal"\nnominal="0.625 in"\nlower="15.870 mm"\n')
    assert inch.features["b"].nominal == 0.625
    assert metric.features["b"].nominal == 15.875
    assert metric.features["b"].lower == 15.87


values = st.one_of(
    st.integers(), st.floats(), st.booleans(), st.text(max_size=6), st.sampled_from(["in", "mm", "internal", "bore"])
)


def toml(value):
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return '"' + "".join(f"\\U{ord(letter):08X}" for letter in value if not 0xD800 <= ord(letter) < 0xE000) + '"'
    if isinstance(value, float):
        return repr(value)
    return str(value)


@given(st.data())
def test_whatever_a_value_is_there_is_a_job_or_every_fault_in_words(data):
    lines = []
    for line in JOB.splitlines():
        if " = " in line and data.draw(st.integers(0, 9)) == 0:
            line = line.partition(" = ")[0] + " = " + toml(data.draw(values))
        lines.append(line)
    text = "\n".join(lines)
    try:
        tomllib.loads(text)
        job = parse_job(text)
    except (JobError, tomllib.TOMLDecodeError) as error:
        assert str(error)
    else:
        assert isinstance(job, Job)
        assert job.unit in ("in", "mm")


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("nominal = .625", "write a digit before the point"),
        ("nominal = 0,625", "write a point"),
        ("nominal = 15.88 mm", "in quotes"),
        ("nominal = 17/32", "in quotes"),
    ],
)
def test_a_line_that_is_no_toml_is_shown_with_what_is_mostly_wrong(line, says):
    with pytest.raises(JobError) as caught:
        parse_job(f'[job]\nunit = "in"\n[features.bore]\nkind = "internal"\n{line}\n')
    assert repr(line) in str(caught.value)
    assert says in str(caught.value)


def test_a_fit_of_a_feature_with_itself_is_refused():
    text = '[job]\nunit = "in"\n[features.a]\nkind = "length"\nnominal = 1\n'
    with pytest.raises(JobError, match="on both sides"):
        parse_job(text + '[fits.f]\ninternal = "a"\nexternal = "a"\ngap = [0, 1]\n')


CUT = """[job]
unit = "in"
[features.pocket]
kind = "{kind}"
nominal = 1.0
machine = {{ {machine} }}
"""


def machine_of(machine, kind="internal"):
    job = parse_job(CUT.format(machine=machine, kind=kind))
    return job.features["pocket"].machine, job.remarks


def test_the_kind_of_cut_fills_what_is_not_stated():
    found, remarks = machine_of('operation = "milling a pocket"')
    assert (found.offset_on, found.plus_makes, found.tool, remarks) == ("radius", "smaller", "cutter", ())
    found, _ = machine_of('operation = "Milling a pocket", offset_on = "diameter", tool = "end mill"')
    assert (found.offset_on, found.plus_makes, found.tool) == ("diameter", "smaller", "end mill")
    assert machine_of("increment = 0.0001")[0].operation == ""


def test_a_kind_of_cut_that_is_not_known_is_refused_and_one_for_the_other_side_is_said():
    with pytest.raises(JobError, match=r"\[features.pocket\] machine operation: .*outside turning, boring"):
        machine_of('operation = "sawing"')
    _, remarks = machine_of('operation = "outside grinding"')
    assert remarks == ("[features.pocket] machine: outside grinding makes an external feature, and this is internal",)
    assert machine_of('operation = "boring"', kind="length")[1] == ()


OTHER_SIDE = [
    ("outside turning", "internal"),
    ("milling outside", "internal"),
    ("boring", "external"),
    ("milling a pocket", "external"),
]


@pytest.mark.parametrize(("operation", "kind"), OTHER_SIDE)
def test_a_cut_for_the_other_side_is_refused_where_the_sign_hangs_on_it(operation, kind):
    with pytest.raises(JobError, match=rf"machine: {operation} makes an .* feature, and this is {kind}: which way"):
        machine_of(f'operation = "{operation}"', kind)
    found, remarks = machine_of(f'operation = "{operation}", plus_makes = "smaller"', kind)
    assert (found.plus_makes, len(remarks)) == ("smaller", 1)


def test_a_kept_job_is_not_refused_for_a_cut_for_the_other_side():
    text = CUT.format(machine='operation = "boring"', kind="external")
    assert "which way an offset goes hangs on it" in parse_job(text, kept=True).remarks[0]


@pytest.mark.parametrize("operation", CONVENTIONS)
@pytest.mark.parametrize("kind", KINDS)
def test_every_other_kind_of_cut_is_taken(operation, kind):
    if (operation, kind) in OTHER_SIDE:
        return
    found, remarks = machine_of(f'operation = "{operation}"', kind)
    assert found.operation == operation
    assert bool(remarks) == ((operation, kind) in [("outside grinding", "internal"), ("bore grinding", "external")])


def test_the_words_say_what_the_job_states_otherwise():
    usual = machine_words(machine_of('operation = "boring"')[0])
    assert "the bore gets larger" in usual
    assert "states otherwise" not in usual
    assert "on the radius, plus makes it larger" in machine_words(
        machine_of('operation = "boring", offset_on = "radius"')[0]
    )
    assert machine_words(machine_of("increment = 0.0001")[0]) == ""
