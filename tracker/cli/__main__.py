"""``python -m tracker.cli``: the same as ``tenthwise``."""

from tracker.cli import main

main()
