"""What the project promises as a whole: import rules, quick starts, every bank case used, a tidy top level."""

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
TOP = {
    "README.md",
    "DEVELOPERS.md",
    "CHANGELOG.md",
    "LICENSE",
    "Makefile",
    "pyproject.toml",
    "tracker",
    "dashboard",
    "tests",
    "sample_readings",
}
HEAVY = {"scipy", "pandas", "plotly", "dash", "pint", "sqlalchemy", "numpy"}


def loaded_by(*lines: str) -> set[str]:
    """Return the top-level modules that a fresh interpreter has loaded after these lines."""
    code = "\n".join(
        [*lines, "import sys, json", "print(json.dumps(sorted({m.partition('.')[0] for m in sys.modules})))"]
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    return set(json.loads(done.stdout.splitlines()[-1]))


RUN = (
    "from click.testing import CliRunner; from tracker.cli.entrance import tenthwise;"
    " r = CliRunner().invoke(tenthwise, {})"
)


@pytest.mark.parametrize("arguments", [["--help"], ["limits", "25H7/p6"]], ids=" ".join)
def test_quick_commands_load_nothing_heavy(arguments):
    assert not loaded_by(RUN.format(arguments), "assert r.exit_code == 0, r.output") & HEAVY


def test_import_tracker_loads_nothing_heavy():
    assert not loaded_by("import tracker") & HEAVY


def test_check_loads_no_dashboard_and_no_database():
    loaded = loaded_by(RUN.format(["check", "sample_readings/rest_buttons"]), "assert r.exit_code in (0, 1), r.output")
    assert not loaded & {"plotly", "dash", "sqlalchemy", "pint"}


def test_seating_and_pressing_load_no_statistics():
    for arguments in (
        ["seat", "--fillet", ".015", "--relief", ".010", "--feeler", ".004"],
        ["press", "--diameter", ".625", "--length", ".375", "--interference", ".0006", "--outer", "2"],
    ):
        loaded = loaded_by(RUN.format(arguments), "assert r.exit_code in (0, 1), r.output")
        assert not loaded & {"scipy", "pandas", "plotly", "dash", "sqlalchemy", "pint"}, arguments


def test_every_public_name_is_there():
    import tracker

    missing = [name for name in tracker.__all__ if not hasattr(tracker, name)]
    assert not missing


def is_named(case_id: str, written: str) -> bool:
    """Whether the tests name a case, whole or as a prefix with a part put behind it: f"iso-fit-{name}"."""
    if re.search(rf"[\"']{re.escape(case_id)}[\"']", written):
        return True
    for at in range(3, len(case_id)):
        prefix, rest = case_id[:at], re.escape(case_id[at:])
        if f'"{prefix}{{' in written and re.search(rf"[\"']{rest}[\"']|(?<![\w.]){rest}(?![\w.])", written):
            return True
    return False


def test_every_case_of_the_bank_is_used_by_a_test():
    cases = json.loads((ROOT / "tests/published/bank/cases.json").read_text(encoding="utf-8"))
    written = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "tests").rglob("test_*.py"))
    assert [item["id"] for item in cases if not is_named(item["id"], written)] == []


def test_the_top_level_holds_what_the_plan_says():
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if tracked.returncode != 0:
        pytest.skip("not a git checkout")
    top = {line.partition("/")[0] for line in tracked.stdout.splitlines()}
    assert {name for name in top if not name.startswith(".")} == TOP
