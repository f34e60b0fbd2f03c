"""The paper a sheet is printed on: its head, its foot, its letters, and pictures that read in black and white."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

from dashboard.figures.drawing import Drawing, faces, rules
from dashboard.figures.numbers import typeset
from dashboard.parts.answers import Answer
from dashboard.theme import FIGURE_FONT, TEXT_FONT, colours
from tracker import __version__
from tracker.decide.words import listed, plural
from tracker.judge import plain_name

PAPERS = {"": "", "a4": "size: A4;", "letter": "size: letter;"}
INK = {**colours("light"), "plate": "#FFFFFF", "ground": "#ECEFED"}
CONTENT_WIDTH = 688
"""Pixels at 96 to the inch that stand between the margins of the narrower paper."""

STYLE = """
@page {{ {paper} margin: 9mm 14mm 11mm; @bottom-right {{ content: "page " counter(page) " of " counter(pages);
  font: 9pt {text}, sans-serif; color: #43524F; }} }}
.paper {{ box-sizing: border-box; color: #121D1C; background: #fff; font: 10.5pt/1.36 "{text}", "Liberation Sans",
  Arial, sans-serif; font-feature-settings: "tnum"; overflow-wrap: anywhere; }}
.paper * {{ box-sizing: border-box; }}
.paper h1, .paper h2, .paper h3, .paper p, .paper ul, .paper dl, .paper dd {{ margin: 0; }}
.paper h1 {{ font-size: 18pt; line-height: 1.1; letter-spacing: -0.01em; }}
.paper h2 {{ font-size: 12.5pt; line-height: 1.2; margin: 8pt 0 2pt; break-after: avoid; }}
.paper h3 {{ font-size: 10.5pt; }}
.paper .p-kind {{ border-bottom: 2.2pt solid #121D1C; padding-bottom: 3pt; margin-bottom: 7pt; font-size: 11pt;
  font-weight: 700; }}
.paper .p-kind b {{ float: right; font-size: 9.5pt; font-weight: 400; color: #43524F; }}
.paper .p-facts {{ table-layout: fixed; margin: 5pt 0 0; border-bottom: 0.8pt solid #66736E; font-size: 9.5pt; }}
.paper .p-facts td {{ border: 0; padding: 2pt 12pt 2pt 0; vertical-align: top; line-height: 1.25; }}
.paper .p-facts span {{ display: block; color: #43524F; font-size: 8.5pt; }}
.paper .p-do {{ font-size: 12pt; margin-top: 5pt; }}
.paper .p-stop {{ border: 2.2pt solid #121D1C; padding: 4pt 9pt 5pt; margin-top: 6pt; break-inside: avoid; }}
.paper .p-stop b {{ font-size: 12.5pt; }}
.paper .p-big {{ font: 700 34pt/1.15 "{mono}", "Liberation Mono", monospace; letter-spacing: -0.03em; }}
.paper .p-how {{ color: #43524F; font-size: 9.5pt; }}
.paper table {{ border-collapse: collapse; width: 100%; margin-top: 3pt; }}
.paper thead {{ display: table-header-group; }}
.paper tr {{ break-inside: avoid; }}
.paper th {{ font-weight: 400; font-size: 8.5pt; color: #43524F; text-align: left; vertical-align: bottom;
  padding: 1pt 7pt 2pt 0; border-bottom: 1.4pt solid #121D1C; line-height: 1.15;
  overflow-wrap: normal; }}
.paper td {{ padding: 1.5pt 7pt 1.5pt 0; border-bottom: 0.5pt solid #BCC6C0; vertical-align: middle; }}
.paper th:last-child, .paper td:last-child {{ padding-right: 0; }}
.paper .p-num {{ text-align: right; font-family: "{mono}", "Liberation Mono", monospace; white-space: nowrap; }}
.paper th.p-num {{ font-family: inherit; white-space: normal; }}
.paper .p-strong {{ font-weight: 700; }}
.paper td.p-strong {{ font-size: 11.5pt; }}
.paper .p-tight td {{ padding-top: 0.6pt; padding-bottom: 0.6pt; font-size: 9pt; }}
.paper .p-num + :not(.p-num) {{ padding-left: 11pt; }}
.paper td svg {{ display: block; }}
.paper .p-tick {{ width: 34pt; }}
.paper .p-tick i {{ display: inline-block; width: 9pt; height: 9pt; border: 1.2pt solid #121D1C; }}
.paper .p-line i {{ display: inline-block; width: 46pt; height: 11pt; border-bottom: 1pt solid #121D1C; }}
.paper .p-flag {{ font-weight: 700; white-space: nowrap; }}
.paper .p-caution {{ border: 1.4pt solid #121D1C; border-left-width: 7pt; padding: 5pt 9pt 6pt; margin-top: 7pt;
  break-inside: avoid; font-size: 8.8pt; line-height: 1.25; }}
.paper .p-caution ul {{ padding-left: 10pt; columns: 2; column-gap: 16pt; }}
.paper .p-caution li {{ break-inside: avoid; }}
.paper .p-after {{ margin-top: 4pt; }}
.paper .p-notes {{ padding-left: 13pt; font-size: 9.8pt; }}
.paper .p-sign {{ break-after: avoid; break-inside: avoid; table-layout: fixed; border: 1.4pt solid #121D1C;
  margin-top: 7pt; }}
.paper .p-sign td {{ border: 0; padding: 3pt 9pt 4pt; font-size: 8.5pt; color: #43524F; line-height: 1.2; }}
.paper .p-sign td:last-child {{ padding-right: 9pt; }}
.paper .p-sign i {{ display: block; height: 14pt; border-bottom: 1pt solid #121D1C; margin-bottom: 1.5pt; }}
.paper .p-foot {{ break-before: avoid; margin-top: 5pt; color: #43524F; font-size: 7.5pt; }}
.paper .p-mono {{ font-family: "{mono}", "Liberation Mono", monospace; }}
.paper figure {{ margin: 8pt 0 0; break-inside: avoid; }}
.paper figure svg {{ display: block; max-width: 100%; height: auto; max-height: 108mm; }}
.paper .p-labels {{ margin: 7pt -4pt 0; }}
.paper .p-label {{ display: inline-block; vertical-align: top; width: 48.4%; margin: 0 0.6% 8pt;
  border: 1.6pt solid #121D1C; padding: 7pt 10pt; min-height: 76pt; break-inside: avoid; }}
.paper .p-label .p-letter {{ float: right; padding-left: 8pt;
  font: 700 32pt/1 "{mono}", "Liberation Mono", monospace; }}
.paper .p-label p {{ font-size: 10pt; }}
.paper .p-label .p-name {{ font-size: 15pt; font-weight: 700; line-height: 1.1; margin-bottom: 4pt; }}
.paper.p-dense {{ font-size: 9.8pt; line-height: 1.28; }}
.paper.p-dense h1 {{ font-size: 15.5pt; }}
.paper.p-dense h2 {{ font-size: 11pt; margin-top: 4.5pt; margin-bottom: 1pt; }}
.paper.p-dense .p-how {{ font-size: 8.6pt; }}
.paper.p-dense td {{ padding-top: 0.6pt; padding-bottom: 0.6pt; line-height: 1.15; }}
.paper.p-dense .p-do {{ font-size: 11pt; }}
.paper.p-dense td.p-strong {{ font-size: 11pt; }}
.paper.p-dense .p-tight td.p-strong {{ font-size: 10pt; }}
.paper.p-dense .p-tight td {{ padding-top: 0.2pt; padding-bottom: 0.2pt; }}
.paper.p-dense .p-tight .p-line i {{ height: 9pt; }}
.paper.p-dense .p-facts td, .paper.p-dense .p-facts {{ font-size: 8.8pt; line-height: 1.2; }}
.paper.p-dense .p-facts span {{ font-size: 7.8pt; }}
.paper.p-dense .p-notes {{ font-size: 9.2pt; }}
.paper.p-dense .p-caution {{ font-size: 8.1pt; line-height: 1.17; margin-top: 5pt; padding: 3pt 8pt 3pt; }}
.paper.p-dense .p-foot {{ margin-top: 3pt; font-size: 7pt; }}
.paper.p-dense .p-sign {{ margin-top: 5pt; }}
.paper.p-dense .p-stop {{ margin-top: 4pt; padding-top: 2.5pt; padding-bottom: 3pt; }}
.paper.p-dense .p-after {{ margin-top: 2.5pt; }}
.paper.p-dense .p-sign td {{ padding-top: 2pt; padding-bottom: 2pt; }}
.paper.p-dense .p-sign i {{ height: 11pt; }}
@media screen {{ body.p-desk {{ margin: 0; background: #E7EBE8; padding: 20px; }}
  body.p-desk .paper {{ max-width: 794px; margin: 0 auto; padding: 45px 53px; border: 1px solid #BCC6C0; }} }}
@media screen and (max-width: 600px) {{ body.p-desk {{ padding: 0; }}
  .paper, body.p-desk .paper {{ padding: 18px 14px; }}
  .paper .p-facts td, .paper .p-sign td {{ display: block; width: auto; }} .paper .p-label {{ width: 98%; }}
  .paper .p-room {{ overflow-x: auto; background: linear-gradient(to right, #fff 24px, #fff0) 0 0 / 48px 100% no-repeat
    local, linear-gradient(to left, #fff 24px, #fff0) 100% 0 / 48px 100% no-repeat local,
    linear-gradient(to right, #0003, #0000) 0 0 / 14px 100% no-repeat,
    linear-gradient(to left, #0003, #0000) 100% 0 / 14px 100% no-repeat; }}
  .paper .p-across, .paper .p-across thead, .paper .p-across tbody {{ display: block; }}
  .paper .p-across tr {{ display: grid; grid-template-columns: repeat(4, 1fr); }}
  .paper .p-across tr > * {{ padding-left: 0; padding-right: 6pt; }}
  .paper .p-across th:nth-child(n+5), .paper .p-across td:empty {{ display: none; }} }}
"""


INSIDE = (
    "@media screen { .paper { padding: 34px 40px; } } @media screen and (max-width: 600px)"
    " { .paper { padding: 18px 14px; } .paper .p-caution ul { columns: 1; } }"
)
"""The margins of a sheet that is shown inside a page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One sheet, ready to be put on paper.

    Attributes
    ----------
    name : str
        As it is asked for: ``bench``, ``set-up``, ``labels``, ``report``.
    kind : str
        What it is, in words.
    title : str
        What it says, as a sentence.
    job : str
        Name of the job.
    body : markupsafe.Markup
        Everything, head and foot too.
    pressing : bool
        Whether force or heat is involved, and the cautions are on it.
    """

    name: str
    kind: str
    title: str
    job: str
    body: Markup
    pressing: bool = False

    @property
    def file_name(self) -> str:
        """A name for its file, without ending."""
        words = f"{self.job} {self.kind}".lower()
        kept = "".join(letter if letter.isascii() and letter.isalnum() else "-" for letter in words)
        return "-".join(part for part in kept.split("-") if part)[:90] or "sheet"

    def inner(self) -> str:
        """Return style and body, to be shown inside a page that has the letters already."""
        return f"<style>{style()}{INSIDE}</style>{self.body}"

    def document(self, paper: str = "") -> str:
        """Return the sheet as a file that stands by itself.

        Parameters
        ----------
        paper : str
            ``a4``, ``letter``, or "" for whatever the printer holds.
        """
        title = escape(f"{self.kind}: {self.title}")
        return (
            '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
            '<meta name="viewport" content="width=device-width, initial-scale=1">'
            f"<title>{title}</title><style>{faces()}{style(paper)}</style></head>"
            f'<body class="p-desk">{self.body}</body></html>\n'
        )


def style(paper: str = "") -> str:
    """Return the style of a sheet for a paper."""
    return STYLE.format(paper=PAPERS[paper], text=TEXT_FONT, mono=FIGURE_FONT)


def on_paper(
    answer: Answer,
    kind: str,
    title: str,
    parts: Iterable[Markup],
    *,
    features: Sequence[str],
    by: str,
    when: datetime.datetime,
    dense: bool = False,
) -> Markup:
    """Return a whole sheet: head, what it says, its parts, its foot; ``dense`` for one that should fit one page."""
    readings = answer.check.readings
    held = f"; {readings.suspect} suspect, held back" if readings.suspect else ""
    held += f"; {readings.refused} refused" if readings.refused else ""
    facts = [
        ("job", answer.check.job),
        ("batch", _batches(answer, features)),
        ("date", f"{when:%Y-%m-%d %H:%M}"),
        ("sheet made by", by or "not stated"),
        ("measured by", _operators(answer, features)),
        ("readings", f"{readings.good} of the whole job count{held}"),
    ]
    cells = [_fact(name, value) for name, value in facts]
    gauges = tag("td", tag("span", "gauge and calibration"), _gauges(answer, features), colspan="3")
    rows = [tag("tr", *cells[:3]), tag("tr", *cells[3:]), tag("tr", gauges)]
    head = _all(
        [
            tag("p", tag("b", f"tenthwise {__version__}"), kind, look="p-kind"),
            tag("h1", typeset(title)),
            tag("table", *rows, look="p-facts", role="presentation"),
        ]
    )
    prints = tag("span", readings.fingerprint, look="p-mono")
    foot = tag(
        "p",
        Markup("Fingerprint of the readings (SHA-256) {}. Software tenthwise {}. Lengths in {}.").format(
            prints, __version__, {"in": "inches", "mm": "millimetres"}[answer.unit]
        ),
        look="p-foot",
    )
    return tag("article", head, *parts, foot, look="paper p-dense" if dense else "paper")


def _fact(name: str, value: str) -> Markup:
    return tag("td", tag("span", name), value)


def tag(name: str, *content: object, look: str = "", **attributes: str) -> Markup:
    """Return an element; whatever is not markup already is escaped."""
    named = ({"class": look} if look else {}) | attributes
    written = Markup("").join(Markup(' {}="{}"').format(key, value) for key, value in named.items())
    return Markup("<{0}{1}>{2}</{0}>").format(Markup(name), written, _all(content))


def _all(parts: Iterable[object]) -> Markup:
    return Markup("").join(escape(part) for part in parts)


def grid(heads: Sequence[tuple[str, str]], rows: Iterable[Sequence[object]], *, look: str = "", label: str) -> Markup:
    """Return a table; ``heads`` are (words, look) a column."""
    top = tag("tr", *[tag("th", words, look=kind, scope="col") for words, kind in heads])
    body = [tag("tr", *[tag("td", cell, look=kind) for cell, (_, kind) in zip(row, heads)]) for row in rows]
    whole = tag("table", tag("thead", top), tag("tbody", *body), look=look, **{"aria-label": label})
    return tag("div", whole, look="p-room", tabindex="0", role="region", **{"aria-label": label})


def section(title: str, *content: object, how: str = "") -> Markup:
    """Return a heading with what stands under it."""
    return _all([tag("h2", typeset(title)), *([tag("p", typeset(how), look="p-how")] if how else []), *content])


def figure(drawn: Drawing) -> Markup:
    """Return a drawing under its finding, in ink that reads in black and white."""
    return tag("figure", tag("h3", typeset(drawn.title)), tag("p", typeset(drawn.how), look="p-how"), vector(drawn))


def vector(drawn: Drawing) -> Markup:
    """Return a drawing with its own looks in it, since a printed picture knows none from around it."""
    head, _, rest = drawn.svg().partition(">")
    return Markup(f"{head}><style>{rules(INK)}</style>{rest}")


def cautions(lines: Sequence[str], title: str) -> Markup:
    """Return the box with what to take care of."""
    return tag("div", tag("h3", title), tag("ul", *[tag("li", typeset(line)) for line in lines]), look="p-caution")


def stop(title: str, *words: str) -> Markup:
    """Return the box that says what stands in the way."""
    return tag("div", tag("b", typeset(title)), *[tag("p", typeset(line)) for line in words if line], look="p-stop")


def sign_off(*boxes: str, broad: str = "remarks") -> Markup:
    """Return the box that is signed; ``broad`` takes a whole line."""
    cells = [tag("td", tag("i"), words) for words in boxes]
    rest = tag("td", tag("i"), broad, colspan=str(len(boxes)))
    return tag("table", tag("tr", *cells), tag("tr", rest), look="p-sign", role="presentation")


def _batches(answer: Answer, features: Sequence[str]) -> str:
    frame = answer.readings.readings
    own = frame[frame["feature"].isin(list(features))]
    found = [name for name in dict.fromkeys(own["batch"].tolist()) if name]
    pieces = [
        f"{len(item.sizes)} {plain_name(item.name) if len(item.sizes) == 1 else plural(plain_name(item.name))}"
        for item in answer.check.features
        if item.name in features and item.sizes is not None
    ]
    pieces += [
        f"{len(item.one_sided)} {plain_name(item.name)}s known from one side only"
        for item in answer.check.features
        if item.name in features and item.one_sided
    ]
    return ", ".join([*found, *pieces]) or "nothing measured"


def _operators(answer: Answer, features: Sequence[str]) -> str:
    frame = answer.readings.readings
    found = [name for name in dict.fromkeys(frame[frame["feature"].isin(list(features))]["operator"].tolist()) if name]
    return listed(found) if found else "not stated"


def _gauges(answer: Answer, features: Sequence[str]) -> str:
    said = []
    for name in features:
        gauge = answer.job.gauge_of(name)
        numbers = answer.numbers(name)
        if gauge is None:
            said.append(f"{plain_name(name)}: no gauge stated")
            continue
        words = f"{plain_name(name)}: {gauge.name}, reads {numbers.off(answer.check.feature(name).step, signed=False)}"
        words += f" {numbers.small}"
        if gauge.calibration:
            words += (
                f", calibrated to {numbers.off(gauge.calibration, signed=False, decimals=2)} {numbers.small} (standard)"
            )
        words += f", next calibration {gauge.due.isoformat()}" if gauge.due else ", next calibration not stated"
        said.append(words)
    return "; ".join(said)
