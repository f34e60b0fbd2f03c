"""The bench sheet names every piece that lies there without a size, and does not promise that any piece goes."""

import re

from click.testing import CliRunner

from dashboard.commands import sheet

JOB = """
[job]
name = "Holes and pins"
unit = "in"
[features.hole]
kind = "internal"
nominal = 0.2500
[features.pin]
kind = "external"
nominal = 0.2507
[fits.f]
internal = "hole"
external = "pin"
gap = [-0.0012, -0.0002]
"""


def test_the_bench_sheet_sets_aside_what_has_no_size(tmp_path):
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    (tmp_path / "pin.csv").write_text("piece,value\n1,0.25075\n2,0.25070\n3,0.25080\n", encoding="utf-8")
    rows = "1,0.25010\n3,0.25015\n7,0.25010\n4,2502\n5,O.2501\n6,nan\n,0.2501\n"
    (tmp_path / "hole.csv").write_text(f"piece,value\n{rows}", encoding="utf-8")
    done = CliRunner().invoke(sheet, [str(tmp_path), "--out", str(tmp_path / "bench.html")])
    assert "Yes, any pin goes into any hole, of those that have a size." in done.output
    page = (tmp_path / "bench.html").read_text(encoding="utf-8")
    text = " ".join(re.sub(r"<[^>]+>", " ", page).split())
    assert "Set aside what has no size: holes 4, 5 and 6 and the hole of one refused row." in text
    assert "Three pieces set aside, not to be pressed" in text
    assert "hole 4: no size, only suspect readings" in text
    assert "holes 5 and 6: no size, only refused rows" in text
    assert "1 suspect, held back; 3 refused" in text
