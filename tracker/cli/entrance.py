"""The way in: knows every command by name and one line, loads only the one that was called."""

from __future__ import annotations

import sys
from importlib import import_module
from importlib.metadata import entry_points
from typing import Any

import click

from tracker.errors import TrackerError

COMMANDS = {
    "check": "the main job: will it go together, and what to do about it",
    "log": "keep readings: typed, from a file, from standard input or a serial gauge",
    "batch": "spread, bias and capability of one feature",
    "pair": "which piece goes into which",
    "classes": "sort both sides into trays",
    "shift": "how much to change the next cut",
    "wear": "is the tool wearing, and how many pieces are left",
    "gauge": "is the gauge good enough for this tolerance",
    "limits": "limits of size for a class, a fit or a pin",
    "seat": "will the shoulder sit flat",
    "press": "press force, holding force and stresses of a press fit",
    "export": "readings out of the record: CSV, XLSX, Parquet, JSON",
    "backup": "copy the record while it is in use, and verify the copy",
    "restore": "put a verified copy back in place of the record",
    "verify": "does the record hold together, row by row",
    "users": "who may do what, with passwords and tokens",
    "history": "many batches: which part, machine or tool drifts, and since when",
}
FROM_DASHBOARD = {
    "demo": "open the dashboard on the sample jobs, nothing else needed",
    "serve": "the dashboard for the shop",
    "sheet": "printable sheets: press bench, set-up note, tray labels, report",
}
CANNOT_SAY = 2


class Commands(click.Group):
    """A group that loads a command when it is asked for, and says a fault in one line."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names, in the order in which a job runs."""
        return [*self._ours(), *self._found()]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return the command of that name, loading its file now."""
        if cmd_name in self._ours():
            command: click.Command = import_module(f"tracker.cli.{cmd_name}").command
            return command
        entry = self._found().get(cmd_name)
        return None if entry is None else entry.load()

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands without loading any."""
        known = COMMANDS | FROM_DASHBOARD
        with formatter.section("Commands"):
            formatter.write_dl([(name, known.get(name, "")) for name in self.list_commands(ctx)])

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; a fault a user can put right ends it with status 2."""
        try:
            return super().invoke(ctx)
        except TrackerError as error:
            click.echo(f"tenthwise: {error}", err=True)
            ctx.exit(CANNOT_SAY)

    @staticmethod
    def _ours() -> list[str]:
        return list(COMMANDS)

    @staticmethod
    def _found() -> dict[str, Any]:
        found = {entry.name: entry for entry in entry_points(group="tenthwise.commands")}
        return {name: found[name] for name in (*FROM_DASHBOARD, *sorted(found)) if name in found}


@click.command(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Example: tenthwise check sample_readings/rest_buttons",
)
@click.version_option(package_name="tenthwise", prog_name="tenthwise")
def tenthwise() -> None:
    """Measure a batch of mating parts, and know before pressing whether it goes together.

    Exit status of every command: 0 yes, 1 no (something is to be done first), 2 cannot say, or bad input.
    """


def main() -> None:
    """Run the command line."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    tenthwise.main(prog_name="tenthwise")
