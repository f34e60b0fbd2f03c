"""Gauges entered by form: a new one, and a new calibration of one that is there; earlier entries stay."""

import datetime

import pytest

ENTRY = {"name": "bore gauge", "unit": "in", "resolution": ".0001", "calibration": "1 um", "due": "2027-03-31"}


def test_a_gauge_is_entered_and_a_new_calibration_keeps_the_rest(shop):
    client = shop.browser("signs off")
    assert client.post("/api/gauges", json=ENTRY | {"serial": "A-7", "by": "someone"}).status_code == 200
    again = {
        "name": "bore gauge",
        "unit": "in",
        "calibrated": "2027-03-01",
        "due": "2028-03-31",
        "note": "after a fall",
    }
    assert client.post("/api/gauges", json=again).status_code == 200
    (found,) = shop.record.gauges()
    assert (found.resolution, found.serial, found.by, found.note) == (0.0001, "A-7", "signs off", "after a fall")
    assert found.calibration == pytest.approx(0.001 / 25.4, rel=1e-12)
    assert (found.calibrated, found.due) == (datetime.date(2027, 3, 1), datetime.date(2028, 3, 31))
    assert shop.record.verify().holds


@pytest.mark.parametrize(
    "change",
    [
        {"name": ""},
        {"unit": "ft"},
        {"resolution": "about a tenth"},
        {"resolution": "-.0001"},
        {"calibration": "0"},
        {"due": "next spring"},
        {"calibrated": "2027-04-01"},
    ],
)
def test_what_is_no_gauge_is_refused_and_nothing_is_entered(shop, change):
    answer = shop.browser("signs off").post("/api/gauges", json=ENTRY | change)
    assert answer.status_code == 400
    assert shop.record.gauges() == []


def test_a_gauge_keeps_its_unit(shop):
    client = shop.browser("signs off")
    client.post("/api/gauges", json=ENTRY)
    answer = client.post("/api/gauges", json=ENTRY | {"unit": "mm"})
    assert "in the register in in" in answer.json["error"]
