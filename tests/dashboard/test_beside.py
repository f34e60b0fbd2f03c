"""Words on the chart of the ways are read with their own bead: near it or led to it, no line through any words."""

import math
from xml.etree import ElementTree

import pytest

from dashboard.figures.beside import Mark, beside
from dashboard.figures.drawing import width_of
from dashboard.figures.ways import Way, ways_picture

SVG = "{http://www.w3.org/2000/svg}"
PLANNED = [("paired", 13.5, 9.85, 0.14), ("in trays", 13.5, 9.78, 0.21), ("the plan", 20, 9.99, 0.01)]
SETS = {
    "ten and ten": [*PLANNED, ("any order", 40, 9.4, 0.5)],
    "dear to make anew": [
        *PLANNED,
        ("all pins new", 65, 9.6, 0.4),
        ("all bores new", 140, 9.5, 0.5),
        ("any order", 130, 9.0, 0.9),
    ],
    "two full beads": [*PLANNED, ("all pins new", 30, 9.99, 0.01)],
}


def drawn(ways, width):
    """Return beads as name -> (x, y), words as name -> box, and the lines that lead from a bead to words."""
    made = [Way(name=name, cost=cost, good=good, risk=risk, safe=risk <= 0.05) for name, cost, good, risk in ways]
    root = ElementTree.fromstring(ways_picture(made, 10, 0.05, width).svg())
    beads, boxes, leads = {}, {}, []
    for circle in root.iter(f"{SVG}circle"):
        names = circle.find(f"{SVG}title").text.partition(":")[0].split(", ")
        beads |= {name: (float(circle.get("cx")), float(circle.get("cy"))) for name in names}
    for text in root.iter(f"{SVG}text"):
        if text.text in beads:
            wide, x, y = width_of(text.text, "wb"), float(text.get("x")), float(text.get("y"))
            left = x - {"start": 0, "middle": wide / 2, "end": wide}[text.get("text-anchor", "start")]
            boxes[text.text] = (left, y - 12, left + wide, y + 4)
    for line in root.iter(f"{SVG}line"):
        if line.get("class") == "lead":
            leads.append(tuple(float(line.get(key)) for key in ("x1", "y1", "x2", "y2")))
    return beads, boxes, leads


def away(point, box):
    return math.dist(point, (min(max(point[0], box[0]), box[2]), min(max(point[1], box[1]), box[3])))


@pytest.mark.parametrize("width", [940, 740, 560, 330])
@pytest.mark.parametrize("case", SETS)
def test_words_are_read_with_their_own_bead(case, width):
    beads, boxes, leads = drawn(SETS[case], width)
    assert set(boxes) == set(beads) == {name for name, *_ in SETS[case]}
    for name, box in boxes.items():
        led = any(math.dist(lead[:2], beads[name]) < 0.2 and away(lead[2:], box) < 60 for lead in leads)
        others = [away(point, box) for other, point in beads.items() if point != beads[name]]
        assert led or away(beads[name], box) < min(others), name
        assert min(others) > 8
        for part in range(1, 100):
            for x1, y1, x2, y2 in leads:
                x, y = x1 + (x2 - x1) * part / 100, y1 + (y2 - y1) * part / 100
                assert not (box[0] < x < box[2] and box[1] < y < box[3]), name
    for one in boxes:
        for other in boxes:
            a, b = boxes[one], boxes[other]
            assert one == other or not (a[0] < b[2] and b[0] < a[2] and a[1] < b[3] - 1 and b[1] + 1 < a[3])


def test_words_of_one_mark_stand_beside_it_inside_the_room():
    (spot,) = beside([Mark(x=95, y=20, wide=60, tall=40)], (0, 0, 100, 100))
    assert (spot.at, spot.lead) == ("end", None)
    assert spot.box[0] >= 0
    assert spot.box[2] < 95
