"""The ``tenthwise`` command: one file a subcommand, each loaded only when it is called."""

from tracker.cli.entrance import main

__all__ = ["main"]
