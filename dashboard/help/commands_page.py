"""The page of the commands: what each says under ``--help``, written down."""

from __future__ import annotations

import copy
import tomllib
from importlib import import_module
from pathlib import Path

import click

from tracker.cli.entrance import COMMANDS, FROM_DASHBOARD, tenthwise

ROOT = Path(__file__).parents[2]
WIDTH = 96
HEAD = """# Commands

This page is made from what each command says under `--help` (`make docs`); a test fails when it is out of date.
Every command ends with 0 for yes, 1 for no (something is to be done first), 2 when it cannot be said or the input is
bad. `--json` prints the answer for machines.

| command | what it answers |
|---|---|
"""


def commands() -> dict[str, click.Command]:
    """Return every command by name: the program's own, then those that the project file adds."""
    found: dict[str, click.Command] = {name: import_module(f"tracker.cli.{name}").command for name in COMMANDS}
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    for name, place in project["project"]["entry-points"]["tenthwise.commands"].items():
        module, _, attribute = place.partition(":")
        found[name] = getattr(import_module(module), attribute)
    return found


def steps() -> dict[str, click.Command]:
    """Return every command and, where one has commands of its own, those by both names: ``history export``."""
    found: dict[str, click.Command] = {}
    for name, made in commands().items():
        found[name] = made
        if isinstance(made, click.Group):
            found.update({f"{name} {below}": inner for below, inner in made.commands.items()})
    return found


def help_text(name: str, command: click.Command) -> str:
    """Return what a command says under ``--help``, at one width everywhere."""
    context = click.Context(tenthwise, info_name="tenthwise", terminal_width=WIDTH)
    *above, last = name.split()
    for word in above:
        context = click.Context(commands()[word], info_name=word, parent=context, terminal_width=WIDTH)
    context = click.Context(
        command, info_name=last, parent=context, terminal_width=WIDTH, help_option_names=["-h", "--help"]
    )
    # A command keeps the help option of its first call, whoever called it and by whatever names.
    fresh = copy.copy(command)
    fresh._help_option = None
    return fresh.get_help(context).rstrip()


def commands_page() -> str:
    """Return the page as text."""
    listed = steps()
    short = {
        name: (COMMANDS | FROM_DASHBOARD).get(name) or made.get_short_help_str(90) for name, made in listed.items()
    }
    rows = "".join(f"| `{name}` | {short[name]} |\n" for name in listed)
    parts = [f"## {name}\n\n```text\n{help_text(name, made)}\n```\n" for name, made in listed.items()]
    return HEAD + rows + "\n" + "\n".join(parts)
