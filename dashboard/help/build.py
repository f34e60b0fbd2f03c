"""Make what is made of the help, and check all of it: ``make docs``, or ``python dashboard/help/build.py``.

The page of the commands is written anew, the pictures are taken from the running program (``--no-pictures`` leaves
them as they are), then every link, picture and named file is checked: exit status 1 with file and line when one leads
nowhere. ``--calibration FILE`` puts a table that ``tests/calibration/run.py --markdown FILE`` wrote into its page;
``--bench FILE`` and ``--growth FILE`` put those of ``tests/benchmarks`` into the page of the speed.
"""

from __future__ import annotations

import argparse
import re
import sys
from pathlib import Path

import click

from dashboard.help.commands_page import commands_page
from dashboard.help.links import faults

HERE = Path(__file__).parent
TABLE_FROM = "## The table\n"
SECTIONS = {"bench": "Against what one would otherwise pick", "growth": "How time grows with size"}


def put_calibration(table: Path, page: Path = HERE / "calibration.md") -> None:
    """Put a table of `tests/calibration/run.py` in place of the one on its page, its size into the command there."""
    found = table.read_text(encoding="utf-8").strip()
    kept, _, _ = page.read_text(encoding="utf-8").partition(TABLE_FROM)
    size = re.search(r"([\d,]+) tries a row", found)
    if size:
        kept = re.sub(r"(run\.py --size) \d+", rf"\1 {size[1].replace(',', '')}", kept)
    page.write_text(f"{kept}{TABLE_FROM}\n{found}\n", encoding="utf-8")


def put_section(table: Path, heading: str, page: Path = HERE / "speed.md") -> None:
    """Put a table of `tests/benchmarks` in place of what stands under a heading of a page.

    Raises
    ------
    ValueError
        If the page has no such heading.
    """
    before, found, rest = page.read_text(encoding="utf-8").partition(f"## {heading}\n")
    if not found:
        raise ValueError(f"{page.name} has no heading {heading!r}")
    after = re.search(r"^## ", rest, re.MULTILINE)
    tail = f"\n{rest[after.start() :]}" if after else ""
    page.write_text(f"{before}{found}\n{table.read_text(encoding='utf-8').strip()}\n{tail}", encoding="utf-8")


def main(arguments: list[str] | None = None) -> int:
    """Build and check; return the exit status."""
    parser = argparse.ArgumentParser(description="Make and check the help.")
    parser.add_argument("--no-pictures", action="store_true", help="leave the pictures as they are")
    parser.add_argument("--calibration", type=Path, metavar="FILE", help="a table for the page of the calibration")
    for name, heading in SECTIONS.items():
        parser.add_argument(f"--{name}", type=Path, metavar="FILE", help=f"a table for {heading!r} on the speed page")
    chosen = parser.parse_args(arguments)
    (HERE / "commands.md").write_text(commands_page(), encoding="utf-8")
    click.echo("commands.md is written")
    if chosen.calibration:
        put_calibration(chosen.calibration)
        click.echo(f"calibration.md holds the table of {chosen.calibration.name}")
    for name, heading in SECTIONS.items():
        if getattr(chosen, name):
            put_section(getattr(chosen, name), heading)
            click.echo(f"speed.md holds the table of {getattr(chosen, name).name}")
    if not chosen.no_pictures:
        from dashboard.help.photographs import take_all

        for file in take_all():
            click.echo(f"pictures/{file.name}: {file.stat().st_size // 1000} kB")
    found = faults()
    for fault in found:
        click.echo(fault, err=True)
    click.echo("every link and picture is there" if not found else f"{len(found)} to put right", err=bool(found))
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
