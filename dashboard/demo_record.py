"""Where the record of the demo lies: in the user's cache, one for each state of the sample files."""

from __future__ import annotations

import hashlib
import os
import sys
from pathlib import Path

FINGERPRINT_LETTERS = 12


def cache_folder() -> Path:
    """Return the folder for what can be made again."""
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA")
        return (Path(base) if base else Path.home() / "AppData" / "Local") / "tenthwise" / "cache"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches" / "tenthwise"
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "tenthwise"


def fingerprint(samples: Path) -> str:
    """Return what tells one state of the sample files from another: of every file its name and what is in it."""
    told = hashlib.sha256()
    for path in sorted(item for item in samples.glob("*/*") if item.is_file()):
        for part in (path.relative_to(samples).as_posix().encode(), path.read_bytes()):
            told.update(len(part).to_bytes(8, "big") + part)
    return told.hexdigest()[:FINGERPRINT_LETTERS]


def demo_record(samples: Path) -> Path:
    """Return the record of the demo for the sample files as they are.

    Changed sample files get a record of their own, so that nothing old is mixed with them; what was tried out on
    earlier ones stays in its file. The user's own record lies elsewhere and is never touched.
    """
    folder = cache_folder()
    folder.mkdir(parents=True, exist_ok=True)
    return folder / f"demo-{fingerprint(samples)}.sqlite"
