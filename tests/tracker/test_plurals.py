"""The word for several of a thing, for the names that drawings give."""

import pytest

from tracker.plurals import pieces, plural


@pytest.mark.parametrize(
    ("one", "several"),
    [
        ("pin", "pins"),
        ("boss", "bosses"),
        ("bush", "bushes"),
        ("body", "bodies"),
        ("key", "keys"),
        ("box", "boxes"),
        ("coupling bore", "coupling bores"),
        ("shims", "shims"),
        ("locating teeth", "locating teeth"),
        ("radius", "radii"),
        ("thickness", "thicknesses"),
        ("head height above the reference face of the flange", "head heights above the reference face of the flange"),
        ("width over the flat", "widths over the flat"),
        ("distance from the bush to the boss", "distances from the bush to the boss"),
        ("bore at the left end", "bores at the left end"),
        ("overhang", "overhangs"),
    ],
)
def test_several(one, several):
    assert plural(one) == several
    assert plural(several) == several or one in ("radius",)


def test_pieces_agree_with_their_number():
    assert [pieces(1), pieces(2), pieces(1, "more "), pieces(0)] == ["1 piece", "2 pieces", "1 more piece", "0 pieces"]
