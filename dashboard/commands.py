"""``tenthwise serve`` and ``tenthwise demo``: the dashboard on a record, and on the sample jobs."""

from __future__ import annotations

import os
import select
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tracker.errors import TrackerError

if TYPE_CHECKING:
    from dashboard.people.door import Door
    from tracker.record import Record

SAMPLES = Path(__file__).parents[1] / "sample_readings"
SHEET_NAMES = ("bench", "set-up", "labels", "closures", "report")
THREADS = 8
BOUNDS: dict[str, Any] = {
    "max_request_body_size": 25_000_000,
    "max_request_header_size": 32_000,
    "channel_timeout": 60,
    "connection_limit": 500,
    "asyncore_use_poll": hasattr(select, "poll"),
}
"""What is taken in at all (a page that takes less says so itself), how long a silent connection is kept, and how many
are: a browser keeps six open, so thirty benches have more than the hundred of the server's own limit."""


def _options(command: Callable[..., Any]) -> Callable[..., Any]:
    for option in (
        click.option("--no-open", is_flag=True, help="Do not open a browser."),
        click.option("--bench", metavar="NAME", default="", help="Who logs here, for example: bench 2."),
        click.option("--record", metavar="URL", envvar="TENTHWISE_RECORD", help="The record: a file or an address."),
        click.option("--port", type=click.IntRange(0, 65535), default=8050, show_default=True),
    ):
        command = option(command)
    return command


@click.command(
    "serve",
    short_help="the dashboard for the shop",
    epilog="Example: tenthwise serve --record bench.sqlite --bench 'bench 2'",
)
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="The address to listen on; any but this machine's own asks people to sign in.",
)
@_options
@click.option("--sign-in", is_flag=True, help="Ask people to sign in on this machine too.")
@click.option("--https", is_flag=True, help="Browsers come by https only: cookies are never sent without it.")
@click.option("--proxy", metavar="ADDRESS", help="The address of the web server that stands before this one.")
@click.option("--name", "names", metavar="HOST", multiple=True, help="A name the shop asks for; no other is answered.")
def serve(
    host: str,
    port: int,
    record: str | None,
    bench: str,
    no_open: bool,
    sign_in: bool,
    https: bool,
    proxy: str | None,
    names: tuple[str, ...],
) -> None:
    """Serve the dashboard on a record until it is stopped with Ctrl C.

    On this machine's own address nobody signs in. Any other --host, and --proxy, --https, --name or --sign-in, asks
    everybody to sign in: make the first user with tenthwise users add NAME --role administers. Passwords are readable
    on the way unless a web server with a certificate stands before this one (Help: to serve a shop).
    """
    from dashboard.people.door import Door
    from tracker.record import default_record_path, open_record

    named = tuple(name.casefold().rstrip(".") for name in names)
    others = not own_address(host)
    door = Door(sign_in=sign_in or others or https or bool(proxy or named), https=https, names=named)
    checked_port(host, port)
    url = record or default_record_path()
    with open_record(url) as kept:
        if door.sign_in:
            checked_people(kept)
        if others and not (https or proxy):
            click.echo(
                "caution: passwords and readings are readable on this network; put a web server with a certificate"
                " before this one and start it with --https --proxy ADDRESS (Help: to serve a shop)",
                err=True,
            )
        run(kept, host, port, bench, open_browser=not no_open, door=door, proxy=proxy)


@click.command(
    "demo",
    short_help="open the dashboard on the sample jobs, nothing else needed",
    epilog="Example: tenthwise demo --no-open",
)
@click.option("--host", default="127.0.0.1", show_default=True, help="An address of this machine's own.")
@_options
def demo(host: str, port: int, record: str | None, bench: str, no_open: bool) -> None:
    """Load the sample jobs, print their verdicts, and open the dashboard on them.

    The record of the demo is a file of its own in the user's cache, so that what is tried out there stays away from the
    shop's. A second run keeps what was logged and struck out in the first; changed sample files begin a fresh one.
    """
    from dashboard.demo_record import demo_record
    from tracker.judge import plain_name
    from tracker.record import open_record

    checked_host(host)
    checked_port(host, port)
    with open_record(record or demo_record(SAMPLES)) as kept:
        for number in load_samples(kept):
            from dashboard.parts.answers import Answers

            answer = Answers(kept).of(number)
            click.echo(answer.check.job)
            for fit in answer.check.fits:
                click.echo(f"  {plain_name(fit.name)}: {fit.verdict.word.upper()}. {fit.verdict.reason}")
        click.echo(f"\nThe record of the demo: {kept.name}")
        run(kept, host, port, bench or "bench 2", open_browser=not no_open)


@click.command(
    "sheet",
    short_help="a sheet for the bench, the machine, the trays or the file",
    epilog="Example: tenthwise sheet sample_readings/rest_buttons --sheet bench --out bench.pdf",
)
@click.argument("job", metavar="JOB")
@click.option(
    "--sheet", "name", type=click.Choice(SHEET_NAMES), default="bench", show_default=True, help="Which sheet."
)
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path), required=True, help="A file: .html or .pdf")
@click.option("--fit", metavar="NAME", default="", help="The fit it is about, for bench and labels.")
@click.option("--feature", metavar="NAME", default="", help="The feature it is about, for set-up and report.")
@click.option("--by", metavar="NAME", default="", help="Who makes the sheet, for example: bench 2.")
@click.option("--unit", type=click.Choice(["in", "mm"]), help="The job's own when not given.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="For a PDF.")
@click.option("--record", metavar="URL", envvar="TENTHWISE_RECORD", help="Take the job from this record.")
@click.option("--json", "as_json", is_flag=True, help="Print what was made for machines.")
def sheet(
    job: str,
    name: str,
    out: Path,
    fit: str,
    feature: str,
    by: str,
    unit: str | None,
    paper: str,
    record: str | None,
    as_json: bool,
) -> None:
    """Write a sheet as HTML, or as PDF where the extra 'sheets' is installed.

    The press bench sheet says which goes into which, with what force and care; the set-up note what is entered at the
    machine; the tray labels are cut out; the closure sheet says which pieces together make which sum; the batch report
    is for the file.

    Exit status: 0 it is written, 2 bad input, or it cannot be made.
    """
    from dashboard.parts.outside import answer_of
    from dashboard.sheets.portable import pdf_of
    from dashboard.sheets.shelf import make_sheet
    from tracker.cli.source import open_source, print_json

    ending = out.suffix.lower()
    if ending not in (".html", ".pdf"):
        raise TrackerError(f"--out {out} ends in {ending or 'nothing'}; a sheet is written as .html or .pdf")
    answer = answer_of(open_source(job, record), unit or "")
    made = make_sheet(answer, name, fit=fit, feature=feature, by=by)
    content = pdf_of(made, paper) if ending == ".pdf" else made.document().encode()
    try:
        out.write_bytes(content)
    except OSError as error:
        raise TrackerError(
            f"{out} cannot be written: {error.strerror}; name a file in a folder that is there"
        ) from error
    if as_json:
        fingerprint = answer.check.readings.fingerprint
        print_json({"sheet": name, "file": str(out), "title": made.title, "fingerprint": fingerprint})
    else:
        click.echo(f"{made.kind}: {made.title}\n{out}")


def load_samples(record: Record, samples: Path = SAMPLES) -> list[int]:
    """Keep the sample jobs in a record, each once, and return their numbers.

    Raises
    ------
    TrackerError
        If the samples are not where they should be, or cannot be kept.
    """
    from tracker.job import load_job
    from tracker.readings import read_events, read_readings

    folders = sorted(path.parent for path in samples.glob("*/job.toml"))
    if not folders:
        raise TrackerError(f"there are no sample jobs in {samples}; run from a copy of the project, or use serve")
    numbers = []
    for folder in folders:
        job = load_job(folder)
        info = record.add_job(job.text, "demo", client_id=f"sample {folder.name}")
        if not info.made and record.job_text(info.id) != job.text:
            info = record.revise_job(info.id, job.text, "demo")
        if info.made or not info.readings:
            record.add_readings(info.id, read_readings(folder, job), "demo")
            for event in read_events(folder, job):
                record.add_event(
                    info.id,
                    event.feature,
                    event.after_piece,
                    event.event,
                    event.amount,
                    batch=event.batch,
                    client_id=f"sample {folder.name} {event.feature} {event.after_piece} {event.event}",
                    by="demo",
                )
        numbers.append(info.id)
    return numbers


def own_address(host: str) -> bool:
    """Return whether an address is this machine's own, which nobody else reaches."""
    from dashboard.people.door import is_loopback

    return is_loopback(host)


def checked_host(host: str) -> None:
    """Refuse to show the demo to others: in it nobody signs in.

    Raises
    ------
    TrackerError
        If the address is not this machine's own.
    """
    if not own_address(host):
        raise TrackerError(
            f"--host {host} would open the demo to others without a sign-in; accepted are 127.0.0.1, ::1, localhost"
            " (for a shop: tenthwise serve)"
        )


def checked_people(record: Record) -> None:
    """Refuse to serve others while nobody could sign in and let the rest in.

    Raises
    ------
    TrackerError
        If there is no user who administers.
    """
    from tracker.record import ROLES

    if not any(user.role == ROLES[-1] and not user.disabled for user in record.users()):
        raise TrackerError(
            "people must sign in here, and nobody can yet; make the first one with: tenthwise users add NAME"
            f" --role {ROLES[-1]} --record {record.name}"
        )


def checked_port(host: str, port: int) -> None:
    """Refuse a port that is taken, before any work is done for it.

    Raises
    ------
    TrackerError
        If it cannot be used.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as asked:
        asked.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            asked.bind((host, port))
        except OSError as error:
            raise TrackerError(
                f"port {port} of {host} cannot be used ({error.strerror}); name another with --port"
            ) from error


def run(
    record: Record,
    host: str,
    port: int,
    bench: str,
    *,
    open_browser: bool,
    door: Door | None = None,
    proxy: str | None = None,
) -> None:
    """Serve the dashboard over an open record until it is stopped; the headers of ``proxy`` are believed."""
    import logging

    from waitress.server import create_server

    from dashboard.server import create_app

    logging.getLogger("waitress.queue").setLevel(
        logging.ERROR
    )  # a page asks for all its files at once; that is no fault

    app = create_app(record, bench=bench, door=door)
    try:
        server = create_server(
            app.server, host=host, port=port, threads=THREADS, ident=None, **forwarding(proxy), **BOUNDS
        )
    except OSError as error:
        raise TrackerError(
            f"port {port} of {host} cannot be used ({error.strerror}); name another with --port"
        ) from error
    shown = f"[{host}]" if ":" in host else host
    address = f"http://{shown}:{getattr(server, 'effective_port', port)}/"
    click.echo(f"The dashboard is at {address}  (Ctrl C ends it)")
    if open_browser and (sys.platform != "linux" or os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        threading.Timer(0.5, webbrowser.open, [address]).start()
    try:
        server.run()
    except KeyboardInterrupt:
        click.echo("ended")
    finally:
        server.close()


def forwarding(proxy: str | None) -> dict[str, Any]:
    """Return whose word is taken for where a request comes from: nobody's, or that of one web server before this one.

    Without one its headers are left standing, so that the door sees that something stands before it.
    """
    if proxy is None:
        return {"clear_untrusted_proxy_headers": False}
    return {
        "trusted_proxy": proxy,
        "trusted_proxy_count": 1,
        "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto", "x-forwarded-host"},
        "clear_untrusted_proxy_headers": True,
    }
