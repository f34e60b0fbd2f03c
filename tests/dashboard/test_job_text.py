"""A job written out and read again is the same job."""

import dataclasses
import datetime
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.parts.job_faults import form_faults, joint_faults, not_in_form, place_of, placed_faults
from dashboard.parts.job_fields import EXAMPLES, FIELDS, PAIRS, blank_form, blank_row, specs
from dashboard.parts.job_tables import data_of, form_of, shown_terms, terms_of, value_of
from dashboard.parts.job_text import job_data, toml_text
from dashboard.parts.job_words import job_words
from tracker.errors import JobError
from tracker.job import parse_job

SAMPLES = sorted((Path(__file__).parents[2] / "sample_readings").glob("*/job.toml"))
RICH = """[job]
name = "Nest \\"B\\" \\\\ left"
unit = "mm"
decimal_comma = true
temperature = 21.5
[features."left bore"]
kind = "internal"
nominal = "15,880"
lower = "5/8 in"
plating = "2 um"
rule = "most_material"
[features.pin]
kind = "external"
nominal = 15.87
master = 15.87
machine = { offset_on = "radius", plus_makes = "smaller", increment = "1 um", setup_sd = 0.002 }
[fits.slip]
internal = "left bore"
external = "pin"
gap = ["open", 0.05]
[closures.height]
terms = { "left bore" = 1, pin = -1 }
limits = [-1, 1]
[gauges.comparator]
due = 2027-09-30
range = [0, 25]
[costs]
remake = { pin = 6.50 }
"""

scalars = (
    st.booleans()
    | st.integers(-(10**12), 10**12)
    | st.decimals(allow_nan=False, allow_infinity=False, places=5, min_value=-(10**9), max_value=10**9)
    | st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
    | st.dates()
)
names = st.text(st.characters(exclude_categories=["Cs"]), max_size=8)
values = st.recursive(
    scalars, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(names, inner, max_size=3), max_leaves=8
)


def bare(job):
    return dataclasses.replace(job, text="")


@given(st.dictionaries(names, values, max_size=5))
def test_what_is_written_is_read_back_exactly(data):
    assert job_data(toml_text(data)) == data


def test_a_decimal_keeps_its_digits_and_a_float_its_value():
    assert "nominal = 0.6250\n" in toml_text({"job": {"nominal": Decimal("0.6250")}})
    assert job_data(toml_text({"value": 1e-7, "whole": 3.0})) == {"value": Decimal("1e-07"), "whole": Decimal("3.0")}
    with pytest.raises(TypeError, match="no form in TOML"):
        toml_text({"value": None})


@pytest.mark.parametrize(
    "text", [path.read_text(encoding="utf-8") for path in SAMPLES] + [RICH], ids=lambda text: text[:30]
)
def test_a_job_through_the_form_and_back_is_the_same_job(text):
    data = job_data(text)
    assert bare(parse_job(toml_text(data))) == bare(parse_job(text))
    through = toml_text(data_of(form_of(data), data))
    assert bare(parse_job(through)) == bare(parse_job(text))
    assert job_data(toml_text(data_of(form_of(job_data(through)), job_data(through)))) == job_data(through)


def test_a_new_name_leads_all_that_name_it():
    data = job_data(RICH)
    form = form_of(data)
    form["features"][0]["name"] = "right bore"
    form["gauges"][0]["name"] = "dial"
    form["features"][1]["gauge"] = "comparator"
    job = parse_job(toml_text(data_of(form, data)))
    assert job.fits["slip"].internal == "right bore"
    assert dict(job.closures["height"].terms) == {"right bore": 1.0, "pin": -1.0}
    assert (job.features["right bore"].plating, job.features["pin"].gauge) == (0.002, "dial")
    assert "left bore" not in toml_text(data_of(form, data))


def test_an_emptied_field_takes_its_key_out_and_keeps_the_rest():
    data = job_data(RICH)
    form = form_of(data)
    form["features"][1] |= {"machine.increment": "", "machine.offset_on": "", "machine.plus_makes": "", "remake": ""}
    form["gauges"][0]["due"] = ""
    job = parse_job(toml_text(data_of(form, data)))
    assert (job.features["pin"].machine.increment, job.features["pin"].machine.setup_sd) == (None, 0.002)
    assert (job.gauges["comparator"].due, job.gauges["comparator"].high) == (None, 25.0)
    assert job.costs.remake == {}


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("", None),
        ("12", 12),
        (".6250", Decimal("0.6250")),
        ("−.0009", Decimal("-0.0009")),
        ("5.", Decimal(5)),
        ("95 %", Decimal("0.95")),
        ("97.5%", Decimal("0.975")),
        ("2027-09-30", datetime.date(2027, 9, 30)),
        ("2027-13-30", "2027-13-30"),
        ("17/32", "17/32"),
        ("5 um", "5 um"),
        ("much", "much"),
    ],
)
def test_what_is_typed_is_a_number_where_it_is_one(typed, found):
    assert value_of(typed) == found


def wrong(**changes):
    form = blank_form()
    form["job"]["name"] = "nest"
    form["features"] = [
        blank_row("features") | {"name": "bore", "kind": "internal", "nominal": ".625"},
        blank_row("features") | {"name": "left shank", "kind": "external", "nominal": ".6255"},
    ]
    form["fits"] = [
        blank_row("fits") | {"name": "a", "internal": "bore", "external": "left shank", "gap_upper": "-.0003"}
    ]
    form["gauges"] = [blank_row("gauges") | {"name": "bore gauge"}]
    for place, value in changes.items():
        section, row, key = place.split("__")
        (form[section] if row == "x" else form[section][int(row)])[key] = value
    return form


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"job__x__assurance": "2"}, ("job", None, "assurance")),
        ({"job__x__unit": "ell"}, ("job", None, "unit")),
        ({"features__1__nominal": "abc"}, ("features", 1, "nominal")),
        ({"features__1__nominal": ""}, ("features", 1, "nominal")),
        ({"features__0__kind": ""}, ("features", 0, "kind")),
        ({"features__0__lower": ".63", "features__0__upper": ".62"}, ("features", 0, "lower")),
        ({"features__0__grade": "H99"}, ("features", 0, "grade")),
        ({"features__0__grade": "H7", "features__0__upper": ".7"}, ("features", 0, "grade")),
        ({"features__1__machine.increment": "-1"}, ("features", 1, "machine.increment")),
        ({"features__1__pieces": "1.5"}, ("features", 1, "pieces")),
        ({"features__1__repeats": "two"}, ("features", 1, "repeats")),
        ({"features__1__rework": "four"}, ("features", 1, "rework")),
        ({"fits__0__internal": "left shank"}, ("fits", 0, "internal")),
        ({"fits__0__external": ""}, ("fits", 0, "external")),
        ({"fits__0__gap_upper": ""}, ("fits", 0, "gap_lower")),
        ({"fits__0__class": "H7/p6"}, ("fits", 0, "class")),
        ({"fits__0__gap_lower": ".1"}, ("fits", 0, "gap_lower")),
        ({"gauges__0__resolution": "0"}, ("gauges", 0, "resolution")),
        ({"gauges__0__due": "soon"}, ("gauges", 0, "due")),
        ({"costs__x__press": "-1"}, ("costs", None, "press")),
    ],
    ids=str,
)
def test_a_fault_is_told_in_its_place(change, place):
    form = wrong(**change)
    with pytest.raises(JobError) as caught:
        parse_job(toml_text(data_of(form)))
    found = placed_faults(str(caught.value), form)
    assert place in [(fault["section"], fault["row"], fault["field"]) for fault in found]
    assert all(fault["words"] for fault in found)


def test_what_the_form_has_no_field_for_is_said():
    assert not_in_form(job_data(RICH), RICH) == []
    odd = """[job]
unit = "in"
[features.a]
kind = "external"
colour = "blue"
machine = { spindle = 2 }
[fits.b]
press = { length = 1, ambient = 70 }
"""
    assert not_in_form(job_data(odd), odd) == ["colour", "machine.spindle", "press.ambient"]
    assert not_in_form({}, "# a remark")[0].startswith("remarks")


@pytest.mark.parametrize(
    ("typed", "terms"),
    [
        ("head height - counterbore depth", {"head_height": 1, "counterbore_depth": -1}),
        ("head_height−counterbore depth", "head_height−counterbore depth"),
        ("- left-hand bore + 2 x head height", {"left-hand bore": -1, "head_height": 2}),
        ("0.5 times head height", {"head_height": Decimal("0.5")}),
        ("old head - counterbore depth", {"head_height": 1, "counterbore_depth": -1}),
        ("head height - head height", "head height - head height"),
        ("head height - shim", "head height - shim"),
        ("", ""),
    ],
)
def test_a_sum_is_read_as_it_is_typed_and_left_alone_where_it_is_none(typed, terms):
    names = {name: name for name in ("head_height", "counterbore_depth", "left-hand bore")}
    names |= {"head height": "head_height", "counterbore depth": "counterbore_depth", "old head": "head_height"}
    found = terms_of(typed, names)
    assert found == terms
    if isinstance(found, dict):
        assert terms_of(shown_terms(found), names) == found


WHOLE = {
    "job": {"decimal_comma": "true", "temperature": "21.5"},
    "features": {
        "master": ".625",
        "rule": "median",
        "part": "plate",
        "material": "tool steel",
        "plating": "8 um",
        "machine.operation": "boring",
        "machine.name": "lathe 2",
        "machine.setup_sd": ".0002",
    },
    "fits": {
        "press.length": ".375",
        "press.outer": "2.0",
        "press.friction": "0.08, 0.16",
        "press.service_temperature": "120",
        "seat.fillet": ".012",
        "seat.relief": ".020",
        "seat.relief_kind": "radius",
    },
    "gauges": {"range_lower": "0", "range_upper": "1", "material": "steel", "line": "(?P<value>[0-9.]+)"},
}


def test_everything_a_shop_says_can_be_said_in_the_form():
    form = wrong()
    form["fits"][0] |= WHOLE["fits"]
    form["job"] |= WHOLE["job"]
    form["features"][0] |= WHOLE["features"]
    form["gauges"][0] |= WHOLE["gauges"]
    closure = {"name": "stand", "terms": "bore - left shank", "lower": "-.001", "upper": ".001"}
    form["closures"] = [blank_row("closures") | closure]
    job = parse_job(toml_text(data_of(form)))
    assert job.remarks == ()
    bore = job.features["bore"]
    assert (job.decimal_comma, job.temperature) == (True, 21.5)
    assert (bore.master, bore.rule, bore.part, bore.material) == (0.625, "median", "plate", "tool steel")
    assert (bore.machine.operation, bore.machine.name, bore.machine.plus_makes) == ("boring", "lathe 2", "larger")
    assert job.fits["a"].press["friction"] == [0.08, 0.16]
    assert dict(job.fits["a"].seat) == {"fillet": 0.012, "relief": 0.02, "relief_kind": "radius"}
    assert dict(job.closures["stand"].terms) == {"bore": 1.0, "left shank": -1.0}
    assert (job.closures["stand"].lower, job.closures["stand"].upper) == (-0.001, 0.001)
    assert (job.gauges["bore gauge"].high, job.gauges["bore gauge"].line) == (1.0, "(?P<value>[0-9.]+)")
    assert joint_faults(job, form) == []


def test_every_key_of_a_job_has_its_field():
    """The rarest keys of a joint, and those that stand elsewhere in the form, are the only exceptions."""
    from tracker.job_file import KEYS

    homes = {"feature": "features", "fit": "fits", "closure": "closures", "gauge": "gauges"}
    for section, keys in KEYS.items():
        if section in ("", "machine"):
            continue
        fields = {field.key.partition(".")[0] for field in FIELDS[homes.get(section, section)]}
        fields |= {PAIRS[homes[section]][0]} if homes.get(section) in PAIRS else set()
        assert set(keys.split()) - fields <= ({"rework", "remake"} if section == "costs" else set()), section
    machine = {field.key.partition(".")[2] for field in FIELDS["features"] if field.key.startswith("machine.")}
    assert machine == set(KEYS["machine"].split())


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"press.length": "much"}, "press.length"),
        ({"press.outer": "2"}, "press.length"),
        ({"press.length": ".375", "press.friction": "5"}, "press.friction"),
        ({"press.length": ".375", "press.outer": ".1"}, "press.outer"),
        ({"seat.fillet": ".01"}, "seat.relief"),
        ({"seat.fillet": ".01", "seat.relief": "-1"}, "seat.relief"),
    ],
    ids=str,
)
def test_a_fault_of_a_joint_is_told_beside_its_field(change, key):
    form = wrong()
    form["fits"][0] |= change
    job = parse_job(toml_text(data_of(form)))
    assert [fault["field"] for fault in joint_faults(job, form)] == [key]


def test_a_sum_of_what_is_not_there_is_told_beside_its_field_once():
    form = wrong()
    form["closures"] = [blank_row("closures") | {"name": "stand", "terms": "bore - shim", "lower": "0"}]
    assert [place_of(fault) for fault in form_faults(form)] == [("closures", 0, "terms")]
    assert "bore, left shank" in form_faults(form)[0]["words"]


def test_a_job_in_words_says_the_extremes_of_its_limits():
    job = parse_job(
        '[job]\nunit = "in"\n[features.bore]\nkind = "internal"\nlower = 0.6250\nupper = 0.6257\n'
        '[features.shank]\nkind = "external"\nlower = 0.6255\nupper = 0.6261\n'
        '[fits.a]\ninternal = "bore"\nexternal = "shank"\ngap = [-0.0009, -0.0003]\n'
    )
    said = job_words(job)
    assert said[0] == "bore, internal: from 0.6250 to 0.6257 in, 7.0 tenths apart; aim 0.62535."
    # 0.6250 - 0.6261 = -0.0011, 0.6257 - 0.6255 = +0.0002
    assert said[-1] == "The limits allow gaps from −11.0 to +2.0 tenths: not every two within limits go together."


def test_a_closure_is_said_back_with_what_the_limits_of_its_lengths_allow():
    job = parse_job(
        '[job]\nunit = "in"\n[features.head_height]\nkind = "length"\nlower = 0.4995\nupper = 0.5001\n'
        '[features.shim]\nkind = "length"\nlower = 0.0620\nupper = 0.0622\n'
        '[features.depth]\nkind = "length"\nnominal = 0.125\n'
        "[closures.stand_height]\nterms = { head_height = 1, shim = -2 }\nlimits = [0.3749, 0.3755]\n"
        "[closures.rest]\nterms = { head_height = 1, depth = -1 }\nlimits = [0.3745, 'open']\n"
    )
    said = job_words(job)
    assert said[-3] == "stand height is head height - 2 x shim: from 0.3749 to 0.3755 in, 6.0 tenths apart."
    # 0.4995 - 2 x 0.0622 = 0.3751 and 0.5001 - 2 x 0.0620 = 0.3761
    assert said[-2] == "The limits allow sums from 0.3751 to 0.3761 in: not every set within limits adds up."
    assert said[-1] == "rest is head height - depth: at least 0.3745 in."


@pytest.mark.parametrize("kind", ["internal", "external", "length"])
def test_a_feature_filled_in_as_the_form_suggests_makes_sense(kind):
    fields = {item["key"]: item["examples"].get(kind, item["example"]) for item in specs()["features"]}
    assert set(EXAMPLES.get(kind, ())) <= set(fields)
    head = f'[job]\nunit = "in"\n[features.one]\nkind = "{kind}"\nnominal = {fields["nominal"]}\n'
    by_limits = parse_job(f"{head}lower = {fields['lower']}\nupper = {fields['upper']}\ntarget = {fields['target']}\n")
    found = by_limits.features["one"]
    assert found.lower <= found.nominal <= found.upper
    assert found.lower <= found.target <= found.upper
    if kind != "length":
        by_grade = parse_job(f'{head}grade = "{fields["grade"]}"\n').features["one"]
        assert by_grade.lower < by_grade.upper
    if kind != "internal":
        assert fields["name"] != "bore"
        assert "0.6257" not in fields.values()
