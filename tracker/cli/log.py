"""``tenthwise log``: keep readings in the record."""

from __future__ import annotations

import sys
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tracker.cli.importing import imported
from tracker.cli.source import CANNOT_SAY, NO, YES, pick, print_json
from tracker.errors import JobError, ReadingsError, TrackerError
from tracker.plurals import noun

if TYPE_CHECKING:
    from tracker.record import Record


@click.command(
    "log",
    short_help="keep readings: typed, from a file, from standard input or a serial gauge",
    epilog="Example: tenthwise log sample_readings/rest_buttons --yes --record bench.sqlite",
)
@click.argument("job", metavar="JOB")
@click.argument("files", metavar="[FILE]...", nargs=-1, type=click.Path(exists=True, path_type=Path))
@click.option("--record", metavar="URL", envvar="TENTHWISE_RECORD", help="The record; the user's own when not given.")
@click.option("--feature", metavar="NAME", help="Type readings of this feature at the prompt, or from standard input.")
@click.option("--piece", metavar="NAME", default="1", show_default=True, help="The piece that typing begins with.")
@click.option(
    "--repeats", type=click.IntRange(1), help="Readings typed a place; without it as the job states them, else one."
)
@click.option("--serial", "port", metavar="PORT", help="Take one line a reading from a gauge on this port.")
@click.option("--by", metavar="NAME", default="", help="Who logs, for example: bench 2.")
@click.option("--yes", is_flag=True, help="Keep the good readings without asking; suspects are held back.")
@click.option("--revise", is_flag=True, help="Keep a changed job.toml as the next revision of its job.")
@click.option("--strict", is_flag=True, help="Keep nothing when any reading is suspect or refused.")
@click.option("--json", "as_json", is_flag=True, help="Print the answer for machines.")
@click.pass_context
def command(
    ctx: click.Context,
    job: str,
    files: tuple[Path, ...],
    record: str | None,
    feature: str | None,
    piece: str,
    repeats: int | None,
    port: str | None,
    by: str,
    yes: bool,
    revise: bool,
    strict: bool,
    as_json: bool,
) -> None:
    """Keep readings in the record.

    JOB is a folder with a job.toml (its files are read, or the FILEs named) or a job already in the record. With
    --feature, values are typed one a line, piece by piece, each with the positions that the job states in turn;
    "piece value" names the piece, an empty line ends.

    Exit status: 0 all kept, 1 some suspect or refused, 2 nothing kept, or bad input.
    """
    from tracker.record import default_record_path, open_record

    with open_record(record or str(default_record_path())) as kept:
        number = _job_number(kept, job, by, revise=revise)
        if feature is not None or port is not None:
            ctx.exit(_typed(kept, number, feature, piece, repeats, port, by, as_json))
        ctx.exit(imported(kept, number, job, files, by, yes=yes, strict=strict, as_json=as_json))


def _job_number(kept: Record, job: str, by: str, *, revise: bool) -> int:
    """Return the job's number, entering it when JOB is a folder that is not in the record yet.

    Raises
    ------
    JobError
        If the record has a job of that name that says something else, and no revision was asked for.
    """
    path = Path(job)
    if not path.exists():
        return kept.find_job(job)
    from tracker.job import load_job

    loaded = load_job(path)
    known = {info.name: info for info in kept.jobs()}
    if loaded.name not in known:
        return kept.add_job(loaded.text, by).id
    found = known[loaded.name]
    if kept.job_text(found.id) != loaded.text:
        if not revise:
            raise JobError(
                f"the record has a job {loaded.name!r} already (number {found.id}, revision {found.revision}), and this"
                " job.toml says something else; say --revise to keep it as the next revision of that job, or give"
                " this one a name of its own"
            )
        kept.revise_job(found.id, loaded.text, by)
    return found.id


def _typed(
    kept: Record,
    number: int,
    feature: str | None,
    piece: str,
    repeats: int | None,
    port: str | None,
    by: str,
    as_json: bool,
) -> int:
    job = kept.job(number)
    name = pick(feature, list(job.features), "feature")
    repeats, positions = repeats or job.features[name].repeats or 1, job.features[name].positions or ("",)
    refused = 0
    keeping: list[dict[str, Any]] = []
    turn = 0
    for line in _lines(job, name, port):
        words = line.split(maxsplit=1)
        text = line
        if len(words) == 2 and not _is_reading(line, job.unit):
            piece, text, turn = words[0], words[1], 0
        elif turn == repeats * len(positions):
            piece, turn = _after(piece), 0
        position = positions[turn // repeats]
        try:
            answer = kept.add_reading(
                number, name, piece, text, client_id=uuid.uuid4().hex, position=position, operator=by, by=by
            )
        except (JobError, TrackerError) as error:
            refused += 1
            click.echo(f"  not kept: {error}", err=True)
            continue
        turn += 1
        keeping.append(answer.to_dict())
        if not as_json:
            click.echo(f"  {answer}" + (f" ({answer.applied})" if answer.applied else ""))
    if as_json:
        print_json({"job": number, "feature": name, "kept": keeping, "refused": refused})
    else:
        click.echo(f"{len(keeping)} {noun(len(keeping), 'reading')} of {name} kept, {refused} not")
    if not keeping:
        return CANNOT_SAY
    return NO if refused or any(item["held"] for item in keeping) else YES


def _lines(job: Any, feature: str, port: str | None) -> Iterator[str]:
    if port is not None:
        from tracker.readings import serial_lines

        gauge = job.gauge_of(feature)
        yield from serial_lines(port, pattern=None if gauge is None else gauge.line)
        return
    if not sys.stdin.isatty():
        yield from (line.strip() for line in sys.stdin if line.strip())
        return
    click.echo(f"Readings of {feature} in {job.unit}, one a line; an empty line ends.", err=True)
    while line := click.prompt("", default="", show_default=False, prompt_suffix="> ", err=True).strip():
        yield line


def _is_reading(text: str, unit: str) -> bool:
    from tracker.readings import read_entry

    try:
        read_entry(text, unit=unit)
    except TrackerError:
        return False
    return True


def _after(piece: str) -> str:
    """Return the name of the next piece: the number at its end goes up by one."""
    digits = len(piece) - len(piece.rstrip("0123456789"))
    if not digits:
        raise ReadingsError(f"what comes after piece {piece!r} is not known; write the piece before the value")
    return piece[: len(piece) - digits] + str(int(piece[-digits:]) + 1)
