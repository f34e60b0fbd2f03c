"""The help: its links, its pictures, its commands, its keys; and that what it tells people to type does work."""

import re
import shlex
import shutil
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from dashboard.help import build
from dashboard.help.commands_page import commands, commands_page, steps
from dashboard.help.contents import help_pages, help_pictures
from dashboard.help.links import LARGEST_PICTURE, faults
from dashboard.help.prose import ProseError, inline, read_prose, slug
from dashboard.pages.help import link, page
from dashboard.server import create_app, rendered
from tracker.cli.entrance import tenthwise
from tracker.job import parse_job
from tracker.job_file import KEYS
from tracker.record import open_record

ROOT = Path(__file__).parents[2]
HELP = ROOT / "dashboard" / "help"
STAYS = ("demo", "serve")
"""Commands that run until they are stopped: their options are read, and nothing is served."""


def text_of(name: str) -> str:
    return (HELP / f"{name}.md").read_text(encoding="utf-8")


def words_of(component) -> str:
    """Return all words of a component."""
    if component is None:
        return ""
    if isinstance(component, str | int | float):
        return str(component)
    if isinstance(component, list | tuple):
        return " ".join(words_of(item) for item in component)
    return words_of(getattr(component, "children", None))


def parts_of(component, kind: str) -> list:
    """Return every component of a kind, such as ``A``."""
    if isinstance(component, list | tuple):
        return [found for item in component for found in parts_of(item, kind)]
    if component is None or isinstance(component, str | int | float):
        return []
    own = [component] if type(component).__name__ == kind else []
    return own + parts_of(getattr(component, "children", None), kind)


# the pages and their links


def test_every_link_picture_and_named_file_is_there():
    assert faults() == []


def test_every_page_is_linked_from_the_first_and_every_picture_is_shown():
    first = text_of("index")
    for name in help_pages():
        assert name == "index" or f"({name}.md)" in first, f"{name} is not linked from index.md"
    shown = {
        Path(block.target).name for item in help_pages().values() for block in item.blocks if block.kind == "picture"
    }
    assert set(help_pictures()) == shown


def test_a_fault_is_named_with_file_and_line(tmp_path):
    folder = tmp_path / "help"
    (folder / "pictures").mkdir(parents=True)
    (folder / "pictures" / "large.png").write_bytes(b"x" * (LARGEST_PICTURE + 1))
    (folder / "a.md").write_text(
        "# A\n\nsee [b](b.md)\n\n![a picture](pictures/no.png)\n\n[up](../secret.md) [away](https://example.org)\n\n"
        "[here](#no-such)\n\n## Twice\n\n## Twice\n\n`tests/no/such_test.py`\n"
    )
    (folder / "b2.md").write_text("no title\n")
    (tmp_path / "README.md").write_text("text\n\n[gone](gone.md)\n")
    found = faults(tmp_path, folder)
    lines = (3, 5, 7, 7, 9, 11, 13, 15)
    places = [*(f"help/a.md:{line}" for line in lines), "help/b2.md:1", "README.md:3", "help/pictures/large.png:1"]
    assert sorted(fault.partition(": ")[0] for fault in found) == sorted(places)


def test_build_ends_with_1_and_says_where_when_a_link_is_broken(monkeypatch, tmp_path, capsys):
    monkeypatch.setattr(build, "HERE", tmp_path)
    monkeypatch.setattr(build, "faults", lambda: ["guide.md:3: no.md leads to no file"])
    assert build.main(["--no-pictures"]) == 1
    assert "guide.md:3: no.md leads to no file" in capsys.readouterr().err
    assert (tmp_path / "commands.md").read_text(encoding="utf-8") == commands_page()
    monkeypatch.setattr(build, "faults", list)
    assert build.main(["--no-pictures"]) == 0


def test_a_table_of_the_calibration_replaces_the_one_before(tmp_path):
    table, target = tmp_path / "new.md", tmp_path / "calibration.md"
    table.write_text("Seed 1, 10 tries a row.\n\n| a |\n|---|\n| 1 |\n")
    target.write_text("# Title\n\nrun.py --size 2000\n\n## The table\n\nold\n")
    build.put_calibration(table, target)
    assert (
        target.read_text()
        == "# Title\n\nrun.py --size 10\n\n## The table\n\nSeed 1, 10 tries a row.\n\n| a |\n|---|\n| 1 |\n"
    )


def test_a_table_of_the_benchmarks_replaces_the_one_under_its_heading(tmp_path):
    table, page = tmp_path / "new.md", tmp_path / "speed.md"
    table.write_text("2026-11-25, a machine.\n\n| a |\n|---|\n| 1 |\n")
    page.write_text("# Speed\n\n## One\n\nold\n\n## Two\n\nkept\n")
    build.put_section(table, "One", page)
    new = "# Speed\n\n## One\n\n2026-11-25, a machine.\n\n| a |\n|---|\n| 1 |\n"
    assert page.read_text() == f"{new}\n## Two\n\nkept\n"
    build.put_section(table, "Two", page)
    assert page.read_text() == f"{new}\n## Two\n\n2026-11-25, a machine.\n\n| a |\n|---|\n| 1 |\n"
    with pytest.raises(ValueError, match="has no heading 'Three'"):
        build.put_section(table, "Three", page)


def test_the_speed_page_has_both_tables_with_their_date_and_machine():
    text = text_of("speed")
    for heading in build.SECTIONS.values():
        under = text.partition(f"## {heading}\n")[2].partition("\n## ")[0]
        assert re.search(r"20\d\d-\d\d-\d\d, \w+, \d+ processors, Python 3", under), heading
        assert under.count("\n| ") >= 9, heading


def test_the_calibration_says_seed_and_size_and_the_command_that_makes_it():
    text = text_of("calibration")
    size = re.search(r"run\.py --size (\d+)", text)
    assert size
    assert re.search(rf"Seed \d+, {int(size[1]):,} tries a row", text)
    assert text.count("\n| ") > 100


def test_every_method_page_says_what_when_wrong_source_and_tests():
    for name, item in help_pages().items():
        if not name.startswith("methods/"):
            continue
        heads = [block.plain for block in item.blocks if block.kind == "heading"][1:]
        assert len(heads) == 4, name
        assert heads[1:] == ["What it assumes, and when it is wrong", "Source", "Tests"], name
        tests = text_of(name).partition("## Tests")[2]
        assert re.search(r"`tests/[\w/]+\.py`", tests), name


# the commands


def test_the_page_of_the_commands_is_what_the_commands_say():
    assert text_of("commands") == commands_page(), "commands.md is out of date; run: make docs"


def test_every_command_is_documented():
    listed = [name for name in steps() if not re.search(rf"^## {name}$", text_of("commands"), re.MULTILINE)]
    assert listed == []
    assert set(commands()) >= set(tenthwise.list_commands(click.Context(tenthwise)))


def typed_lines(path: Path) -> list[tuple[int, str]]:
    """Return the lines of a file's blocks of code that begin with tenthwise, with their numbers."""
    found, in_code = [], False
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        if line.startswith("```"):
            in_code = not in_code
        elif in_code and line.startswith("tenthwise "):
            found.append((number, line.partition("  #")[0].strip()))
    return found


def examples() -> list[tuple[str, str]]:
    """Return every command that README.md, the guide, and each command's own help tell people to type."""
    found = [
        (f"{path.name}:{number}", line)
        for path in (ROOT / "README.md", HELP / "guide.md")
        for number, line in typed_lines(path)
    ]
    for name, made in steps().items():
        if not isinstance(made, click.Group):
            told = (made.epilog or "").partition("Example: ")[2].strip()
            found.append((f"{name} --help", told))
    return found


@pytest.fixture(scope="module")
def bench_folder(tmp_path_factory):
    """Return a folder with the sample jobs and a record, its copy and nothing else."""
    folder = tmp_path_factory.mktemp("typed")
    shutil.copytree(ROOT / "sample_readings", folder / "sample_readings", ignore=shutil.ignore_patterns("__pycache__"))
    return folder


@pytest.mark.parametrize(("where", "line"), examples(), ids=[where for where, _ in examples()])
def test_what_people_are_told_to_type_works(where, line, bench_folder, monkeypatch):
    monkeypatch.chdir(bench_folder)
    program, name, *arguments = shlex.split(line)
    assert program == "tenthwise"
    if name in STAYS:
        with click.Context(tenthwise) as above:
            commands()[name].make_context(name, arguments, parent=above)
        return
    record = bench_folder / "bench.sqlite"
    if ("bench.sqlite" in line or name == "history") and name != "log" and not record.exists():
        ready = CliRunner().invoke(
            tenthwise, shlex.split("log sample_readings/rest_buttons --yes --record bench.sqlite")
        )
        assert ready.exit_code == 0, ready.output
    if name == "restore" and not Path(arguments[0]).exists():
        assert CliRunner().invoke(tenthwise, ["backup", arguments[0], "--record", "bench.sqlite"]).exit_code == 0
    if name == "backup":
        Path(arguments[0]).unlink(missing_ok=True)
    if line.startswith("tenthwise history summary") and not (bench_folder / "history").exists():
        written = CliRunner().invoke(tenthwise, ["history", "export", "--record", str(record), "--out", "history"])
        assert written.exit_code == 0, written.output
    if line.startswith("tenthwise history export"):
        shutil.rmtree(bench_folder / "history", ignore_errors=True)
    if name == "users":
        (bench_folder / "of_users").mkdir(exist_ok=True)
        monkeypatch.chdir(bench_folder / "of_users")
        ready_for_users(Path("bench.sqlite"))
    if name in tenthwise.list_commands(click.Context(tenthwise)):
        done = CliRunner().invoke(tenthwise, [name, *arguments], input="four words at the bench\n")
    else:
        done = CliRunner().invoke(commands()[name], arguments)
    assert done.exit_code < 2, f"{where}: {line}\n{done.output}"
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception


def ready_for_users(path: Path) -> None:
    """Make a record in which the examples find whom they name, and none of those they make."""
    path.unlink(missing_ok=True)
    for side in ("-wal", "-shm"):
        path.with_name(path.name + side).unlink(missing_ok=True)
    with open_record(path) as record:
        record.add_user("lead", "administers", "four words at the bench")
        record.add_user("operator A", "logs", "four words at the bench")
        record.add_token("press cell", "logs")


def shown_answers() -> list[tuple[str, str]]:
    """Return each command of README.md and the text that is shown as its answer."""
    found = re.findall(r"```sh\n(tenthwise [^\n]+)\n```\n\n```text\n(.*?)```", README, re.DOTALL)
    assert found, "README.md shows no answer"
    return found


README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_answers_that_the_readme_shows_are_those_that_come(monkeypatch):
    monkeypatch.chdir(ROOT)
    for line, shown in shown_answers():
        answer = CliRunner().invoke(tenthwise, shlex.split(line)[1:]).output
        for part in re.split(r"^ *\.\.\. *\n", shown, flags=re.MULTILINE):
            assert part.strip("\n") in answer, f"README.md shows what {line} does not say:\n{part}"


# the job file


def tables_of(name: str) -> dict[str, list[str]]:
    """Return the first column of the tables of a page, by the heading above."""
    found: dict[str, list[str]] = {}
    head = ""
    for block in read_prose(text_of(name), name):
        if block.kind == "heading":
            head = slug(block.plain)
        elif block.kind == "table":
            rows = block.rows[block.width :: block.width]
            found.setdefault(head, []).extend(cell[0].words for cell in rows)
    return found


HEADS = {
    "": "the-tables-of-the-file",
    "job": "job",
    "feature": "features",
    "machine": "machine",
    "fit": "fits",
    "closure": "closures",
    "gauge": "gauges",
    "costs": "costs",
}


def test_every_key_of_a_job_is_documented_where_it_stands_and_no_other():
    tables = tables_of("job")
    assert set(KEYS) == set(HEADS), "KEYS has a section that job.md does not know"
    for section, keys in KEYS.items():
        assert sorted(tables[HEADS[section]]) == sorted(keys.split()), section


def test_the_job_of_the_page_is_read_without_fault_or_remark():
    blocks = [block for block in read_prose(text_of("job"), "job.md") if block.target == "toml"]
    assert blocks
    for block in blocks:
        assert parse_job(block.words).remarks == ()


SAMPLE = """
[job]
{job}
[features.f]
kind = "external"
{feature}
[features.shank]
kind = "external"
nominal = 1.0
[features.bore]
kind = "internal"
nominal = 25
{bore}
[features.head_height]
kind = "length"
nominal = 1.0
[features.counterbore_depth]
kind = "length"
nominal = 0.5
{rest}
"""


def job_with(section: str, key: str, example: str) -> str:
    """Return a job that holds one example of the page, and what must be there beside it."""
    parts = {"job": 'unit = "mm"', "feature": "nominal = 1.0", "bore": "", "rest": ""}
    gap = "" if key in ("gap", "class") else "gap = [-0.0009, -0.0003]"
    sides = [f'{side} = "{name}"' for side, name in (("internal", "bore"), ("external", "shank")) if side != key]
    closure = {"terms": "terms = { head_height = 1, counterbore_depth = -1 }", "limits": "limits = [0.4, 0.6]"}
    beside = [words for name, words in closure.items() if name != key]
    if section == "job":
        parts["job"] = example if key == "unit" else f'unit = "mm"\n{example}'
    elif section == "features":
        parts["feature"] = example if key == "nominal" else f"nominal = 1.0\n{example}"
        if key == "kind":
            parts |= {"feature": "nominal = 1.0", "rest": f"[features.g]\n{example}\nnominal = 1.0"}
    elif section == "machine":
        parts["feature"] = f"nominal = 1.0\nmachine = {{ {example} }}"
    elif section == "fits":
        parts["rest"] = "\n".join(["[fits.x]", *sides, gap, example])
    elif section == "closures":
        parts["rest"] = "\n".join(["[closures.x]", *beside, example])
    elif section == "gauges":
        parts["rest"] = f"[gauges.g]\n{example}"
    else:
        parts["rest"] = f"[costs]\n{example}"
    return SAMPLE.format(**parts)


def key_examples() -> list[tuple[str, str, str]]:
    """Return section, key and example of every key on the page."""
    found, head = [], ""
    for block in read_prose(text_of("job"), "job.md"):
        if block.kind == "heading":
            head = slug(block.plain)
        elif block.kind == "table" and block.width == 3:
            rows = [block.rows[start : start + 3] for start in range(3, len(block.rows), 3)]
            found += [(head, row[0][0].words, row[2][0].words) for row in rows]
    return found


@pytest.mark.parametrize(("section", "key", "example"), key_examples(), ids=[f"{s}-{k}" for s, k, _ in key_examples()])
def test_the_example_of_a_key_is_accepted(section, key, example):
    assert example.startswith(f"{key} = ")
    remarks = parse_job(job_with(section, key, example)).remarks
    assert [remark for remark in remarks if "names the gauge" not in remark] == []


# how it is read in the dashboard


def test_every_page_opens_with_its_title_and_only_links_inside():
    hrefs = {item.href for item in help_pages().values()}
    for item in help_pages().values():
        opened = page(item.href)
        assert (opened.question, opened.answer) == ("Help", item.title)
        for anchor in parts_of(opened.body, "A"):
            assert anchor.href in hrefs or anchor.href.startswith("#at-"), (item.name, anchor.href)
        for image in parts_of(opened.body, "Img"):
            assert image.alt
            assert image.src.removeprefix("/help/pictures/") in help_pictures()
        ids = [part.id for kind in ("H2", "H3") for part in parts_of(opened.body, kind) if hasattr(part, "id")]
        assert len(ids) == len(set(ids))


def test_a_page_that_is_not_there_says_so_and_opens_no_file():
    for path in ("/help/nothing", "/help/../../pyproject", "/help/methods/../../prose", "/help/%2e%2e/README"):
        assert page(path).answer == "There is no such page in the help."


def test_words_of_a_page_come_out_as_words():
    assert "120 readings count" in words_of(page("/help/guide").body)
    assert link("methods/chance.md", "guide") == "/help/methods/chance"
    assert link("chance.md", "methods/verdict") == "/help/methods/chance"


def test_help_stands_in_the_frame_and_keeps_the_job(answers, numbers_of):
    number = numbers_of["rest_buttons"]
    shown, _ = rendered(answers, "/help/guide", f"?job={number}")
    assert "From readings to press" in words_of(shown)
    scale = {words_of(anchor): anchor.href for anchor in parts_of(shown, "A")}
    assert scale["Help"] == f"/help?job={number}"
    assert scale["Fit"] == f"/fit?job={number}"


def test_pictures_are_served_by_name_and_nothing_else_is(record):
    client = create_app(record).server.test_client()
    for name, file in help_pictures().items():
        got = client.get(f"/help/pictures/{name}")
        assert (got.status_code, got.mimetype) == (200, "image/png")
        assert got.data == file.read_bytes()
        assert got.data.startswith(b"\x89PNG")
        assert "default-src 'none'" in got.headers["Content-Security-Policy"]
    for path in ("no.png", "..%2Fguide.md", "%2e%2e%2fbuild.py", "fit.png%00"):
        got = client.get(f"/help/pictures/{path}")
        assert b"import" not in got.data
        assert not got.data.startswith((b"# ", b"\x89PNG"))


# the small part of Markdown


@pytest.mark.parametrize(
    "text",
    [
        "no title",
        "# T\n\n<b>raw</b>",
        "# T\n\nan `open code",
        "# T\n\na **bold word",
        "# T\n\n```\nnot closed",
        "# T\n\n| a | b |\n|---|---|\n| 1 |",
        "# T\n\n| a | b |\n| 1 | 2 |",
        "# T\n\n#### too deep",
        "# T\n\n    indented",
        "# T\n\n![](x.png)",
        "# T\n\nwords <script>",
    ],
)
def test_what_the_reader_does_not_know_it_refuses_with_its_place(text):
    with pytest.raises(ProseError, match=r"^page\.md:\d+: "):
        read_prose(text, "page.md")


def test_blocks_are_read_as_they_stand():
    blocks = read_prose(
        "# T\n\none\ntwo `a|b`\n\n- x\n  more\n- y\n\n1. first\n2. second\n\n| a | b |\n|---|---:|\n"
        "| `x\\|y` | **z** |\n\n> careful\n> please\n\n```sh\nrun this\n```\n",
        "page.md",
    )
    assert [block.kind for block in blocks] == ["heading", "text", "list", "numbered", "table", "caution", "code"]
    assert blocks[1].plain == "one two a|b"
    assert blocks[2].plain == "x more y"
    assert [row[0].words for row in blocks[4].rows] == ["a", "b", "x|y", "z"]
    assert (blocks[5].plain, blocks[6].words, blocks[6].target) == ("careful please", "run this", "sh")
    assert [block.line for block in blocks] == [1, 3, 6, 10, 13, 17, 20]


def test_a_line_falls_into_its_parts():
    parts = inline("say `x` **now**, see [the `b` page](b.md).")
    assert [(part.kind, part.words, part.target) for part in parts] == [
        ("text", "say ", ""),
        ("code", "x", ""),
        ("text", " ", ""),
        ("strong", "now", ""),
        ("text", ", see ", ""),
        ("link", "the b page", "b.md"),
        ("text", ".", ""),
    ]
