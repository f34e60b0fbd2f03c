"""The small part of Markdown that the help is written in, as blocks; what it does not know it refuses, by line.

Known are: headings (one to three ``#``), paragraphs, lists (``- `` or ``1. ``, one level, continued by indenting),
tables, fenced code, quotes (``> ``: a caution), a picture on a line of its own; within a line ``code``, **strong**,
links.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from tracker.errors import TrackerError

INLINE = re.compile(r"`(?P<code>[^`]+)`|\*\*(?P<strong>[^*]+)\*\*|\[(?P<words>[^\]]+)\]\((?P<target>[^()\s]+)\)")
PICTURE = re.compile(r"!\[(?P<words>[^\]]+)\]\((?P<target>[^()\s]+)\)")
HEADING = re.compile(r"(#{1,3}) +(\S.*)")
ITEM = re.compile(r"(?P<mark>-|\d+\.) +(?P<words>\S.*)")
RULE = re.compile(r"\|(?: *:?-+:? *\|)+")


class ProseError(TrackerError):
    """A page of the help holds what its reader does not know."""


@dataclass(frozen=True, slots=True)
class Part:
    """A piece of a line: ``kind`` is ``text``, ``code``, ``strong`` or ``link`` (then ``target`` is set)."""

    kind: str
    words: str
    target: str = ""


Parts = tuple[Part, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A block of a page.

    Attributes
    ----------
    kind : str
        ``heading``, ``text``, ``list``, ``numbered``, ``table``, ``code``, ``caution`` or ``picture``.
    line : int
        Where it begins, from 1.
    level : int
        Of a heading.
    rows : tuple
        Of text, heading and caution one line of parts; of a list one an item; of a table one a cell of each row, the
        head first, ``width`` cells a row.
    words : str
        Of code the text, of a picture what it shows.
    target : str
        Of a picture its file, of code its language.
    """

    kind: str
    line: int
    level: int = 0
    width: int = 0
    rows: tuple[Parts, ...] = ()
    words: str = ""
    target: str = ""

    @property
    def plain(self) -> str:
        """Its words without marks."""
        return self.words or " ".join("".join(part.words for part in row) for row in self.rows)


def inline(text: str) -> Parts:
    """Return a line as its parts.

    Examples
    --------
    >>> [part.kind for part in inline("see `check` in [the guide](guide.md)")]
    ['text', 'code', 'text', 'link']
    """
    parts: list[Part] = []
    end = 0
    for found in INLINE.finditer(text):
        if found.start() > end:
            parts.append(Part("text", text[end : found.start()]))
        if found["code"]:
            parts.append(Part("code", found["code"]))
        elif found["strong"]:
            parts.append(Part("strong", found["strong"]))
        else:
            parts.append(Part("link", found["words"].replace("`", ""), found["target"]))
        end = found.end()
    if end < len(text):
        parts.append(Part("text", text[end:]))
    return tuple(parts)


def slug(words: str) -> str:
    """Return the name of the place that a heading makes.

    Examples
    --------
    >>> slug("Go / does not go")
    'go-does-not-go'
    """
    return "-".join(re.findall(r"[a-z0-9]+", words.lower()))


def read_prose(text: str, source: str) -> list[Block]:
    """Return the blocks of a page.

    Raises
    ------
    ProseError
        With file and line, if something stands there that is not known.
    """
    blocks = list(_Reader(text.splitlines(), source).blocks())
    if not blocks or blocks[0].kind != "heading" or blocks[0].level != 1:
        raise ProseError(f"{source}:1: a page begins with its title, as in: # Title")
    return blocks


def targets(block: Block) -> Iterator[str]:
    """Yield what a block points to: its links, or its picture."""
    if block.kind == "picture":
        yield block.target
    for row in block.rows:
        for part in row:
            if part.kind == "link":
                yield part.target


class _Reader:
    """Reads lines one by one."""

    def __init__(self, lines: list[str], source: str) -> None:
        self.lines = lines
        self.source = source
        self.at = 0

    def blocks(self) -> Iterator[Block]:
        """Yield the blocks in order."""
        while self.at < len(self.lines):
            if not self.lines[self.at].strip():
                self.at += 1
            else:
                yield self._block()

    def _block(self) -> Block:
        line = self.lines[self.at]
        if line.startswith("```"):
            return self._code()
        if line.startswith("#"):
            return self._heading()
        if line.startswith("|"):
            return self._table()
        if line.startswith("> "):
            return self._caution()
        if ITEM.match(line):
            return self._list()
        if line.startswith("!"):
            return self._picture()
        if line.startswith((" ", "\t", "<", "* ", "+ ", "---", "***", ">")):
            raise self._fault(f"{line[:40]!r} begins a block that the help does not use")
        return self._text()

    def _fault(self, words: str, at: int | None = None) -> ProseError:
        return ProseError(f"{self.source}:{(self.at if at is None else at) + 1}: {words}")

    def _parts(self, text: str, at: int) -> Parts:
        parts = inline(text)
        for part in parts:
            if part.kind == "text" and re.search(r"[`<>]|\]\(|\*\*", part.words):
                raise self._fault(f"{part.words[:60]!r} holds a mark that is not closed or not known", at)
        return parts

    def _heading(self) -> Block:
        found = HEADING.fullmatch(self.lines[self.at])
        if found is None:
            raise self._fault("a heading is one to three # and its words")
        block = Block(kind="heading", line=self.at + 1, level=len(found[1]), rows=(self._parts(found[2], self.at),))
        self.at += 1
        return block

    def _picture(self) -> Block:
        found = PICTURE.fullmatch(self.lines[self.at].strip())
        if found is None:
            raise self._fault("a picture stands alone, as in: ![what it shows](pictures/name.png)")
        self.at += 1
        return Block(kind="picture", line=self.at, words=found["words"], target=found["target"])

    def _code(self) -> Block:
        first, language = self.at, self.lines[self.at][3:].strip()
        self.at += 1
        while self.at < len(self.lines) and not self.lines[self.at].startswith("```"):
            self.at += 1
        if self.at == len(self.lines):
            self.at = first
            raise self._fault("this block of code is not closed")
        text = "\n".join(self.lines[first + 1 : self.at])
        self.at += 1
        return Block(kind="code", line=first + 1, words=text, target=language)

    def _paragraph(self, start: str) -> str:
        """Return the words up to the next empty line or block, joined."""
        words = [start]
        self.at += 1
        while self.at < len(self.lines):
            line = self.lines[self.at]
            if not line.strip() or line.startswith(("#", "|", "```", "> ", "!")) or ITEM.match(line):
                break
            words.append(line.strip())
            self.at += 1
        return " ".join(words)

    def _text(self) -> Block:
        first = self.at
        parts = self._parts(self._paragraph(self.lines[self.at].strip()), first)
        return Block(kind="text", line=first + 1, rows=(parts,))

    def _caution(self) -> Block:
        first, words = self.at, []
        while self.at < len(self.lines) and self.lines[self.at].startswith("> "):
            words.append(self.lines[self.at][2:].strip())
            self.at += 1
        return Block(kind="caution", line=first + 1, rows=(self._parts(" ".join(words), first),))

    def _list(self) -> Block:
        first, rows = self.at, []
        numbered = not self.lines[self.at].startswith("-")
        while self.at < len(self.lines) and (found := ITEM.match(self.lines[self.at])):
            if (found["mark"] != "-") != numbered:
                break
            at = self.at
            rows.append(self._parts(self._paragraph(found["words"].strip()), at))
        return Block(kind="numbered" if numbered else "list", line=first + 1, rows=tuple(rows))

    def _table(self) -> Block:
        first, cells, width = self.at, [], 0
        while self.at < len(self.lines) and self.lines[self.at].startswith("|"):
            line = self.lines[self.at].strip()
            if self.at == first + 1:
                if not RULE.fullmatch(line):
                    raise self._fault("below the head of a table stands its rule, as in: |---|---|")
            else:
                row = [cell.strip().replace("\\|", "|") for cell in re.split(r"(?<!\\)\|", line[1:-1])]
                width = width or len(row)
                if len(row) != width:
                    raise self._fault(f"this row has {len(row)} cells and the head has {width}")
                cells += [self._parts(cell, self.at) for cell in row]
            self.at += 1
        return Block(kind="table", line=first + 1, width=width, rows=tuple(cells))
