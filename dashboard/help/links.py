"""What is wrong with the pages: links that lead nowhere, pictures that are not there, files that are named and gone."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

from dashboard.help.prose import Block, ProseError, read_prose, slug, targets

ROOT = Path(__file__).parents[2]
HELP = Path(__file__).parent
LARGEST_PICTURE = 300_000
LINK = re.compile(r"!?\[[^\]]*\]\(([^()\s]+)\)")
NAMED = re.compile(r"`((?:tests|tracker|dashboard|sample_readings)/[\w/.-]+)`")


def faults(root: Path = ROOT, help_folder: Path = HELP) -> list[str]:
    """Return every fault of the help, README.md and DEVELOPERS.md, each as ``file:line: what is wrong``."""
    found: list[str] = []
    for path in sorted(help_folder.rglob("*.md")):
        found += _help_faults(path, root, help_folder)
    for name in ("README.md", "DEVELOPERS.md"):
        path = root / name
        if path.exists():
            found += _plain_faults(path, root)
    for path in sorted((help_folder / "pictures").glob("*")):
        if path.suffix != ".png" or path.stat().st_size > LARGEST_PICTURE:
            found.append(f"{_said(path, root)}:1: a picture is a .png of at most {LARGEST_PICTURE // 1000} kB")
    return found


def _said(path: Path, root: Path) -> str:
    return path.relative_to(root).as_posix() if path.is_relative_to(root) else path.as_posix()


def _help_faults(path: Path, root: Path, folder: Path) -> list[str]:
    where = _said(path, root)
    text = path.read_text(encoding="utf-8")
    try:
        blocks = read_prose(text, where)
    except ProseError as error:
        return [str(error)]
    found = []
    places = Counter(slug(block.plain) for block in blocks if block.kind == "heading" and block.level > 1)
    for block in blocks:
        if block.kind == "heading" and block.level > 1 and places[slug(block.plain)] > 1:
            found.append(f"{where}:{block.line}: two headings of this page are called {block.plain!r}")
        found += [
            f"{where}:{block.line}: {fault}"
            for target in targets(block)
            if (fault := _fault_of(target, block, path, folder, set(places)))
        ]
    return found + _names(text, where, root)


def _fault_of(target: str, block: Block, path: Path, folder: Path, places: set[str]) -> str:
    """Return what is wrong with a link or picture, "" when nothing is."""
    if target.startswith("#"):
        return "" if target[1:] in places else f"there is no heading {target} on this page"
    if "://" in target or "#" in target:
        return f"{target} is no page of the help (a link is a relative .md file, or a heading of the same page)"
    led = (path.parent / target).resolve()
    wanted = ".png" if block.kind == "picture" else ".md"
    if led.suffix != wanted or not led.is_relative_to(folder.resolve()):
        return f"{target} is no {wanted} file of the help"
    if block.kind == "picture" and led.parent != (folder / "pictures").resolve():
        return f"{target} is not in pictures/"
    return "" if led.is_file() else f"{target} leads to no file"


def _plain_faults(path: Path, root: Path) -> list[str]:
    """Return the faults of a file outside the help: its links must lead to files of the project."""
    text = path.read_text(encoding="utf-8")
    where, found, in_code = _said(path, root), [], False
    for number, line in enumerate(text.splitlines(), 1):
        in_code ^= line.startswith("```")
        if in_code:
            continue
        for target in LINK.findall(line):
            if "://" not in target and not (path.parent / target.partition("#")[0]).exists():
                found.append(f"{where}:{number}: {target} leads to no file")
    return found + _names(text, where, root)


def _names(text: str, where: str, root: Path) -> list[str]:
    """Return a fault for each file of the project that is named and not there."""
    return [
        f"{where}:{number}: the file {name} is named, and is not there"
        for number, line in enumerate(text.splitlines(), 1)
        for name in NAMED.findall(line)
        if not (root / name).exists()
    ]
