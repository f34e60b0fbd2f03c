"""Records to test on: a file, and a PostgreSQL server that the tests start themselves on loopback."""

import os
import shutil
import socket
import subprocess
import tempfile
import uuid
from pathlib import Path

import pytest
from sqlalchemy import create_engine

from tracker.record import open_record

JOB = """
[job]
name = "Leak-test nest, rest buttons"
unit = "in"

[features.bore]
kind = "internal"
nominal = 0.6250
lower = 0.6250
upper = 0.6257
gauge = "bore gauge"

[features.shank]
kind = "external"
nominal = 0.6255
master = 0.6255

[fits.button_in_plate]
internal = "bore"
external = "shank"
gap = [-0.0009, -0.0003]

[gauges."bore gauge"]
resolution = 0.00005
"""


class Server:
    """A PostgreSQL server of our own: loopback only, a free port, thrown away afterwards."""

    def __init__(self, programs: Path, folder: Path):
        self.programs, self.folder = programs, folder
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.folder.chmod(0o777)
        self.data = folder / "data"
        self._run("initdb", "-D", self.data, "-A", "trust", "-U", "tenthwise", "-E", "UTF8", "--no-sync")

    def _run(self, program, *arguments):
        command = [str(self.programs / program), *map(str, arguments)]
        if os.getuid() == 0:
            command = ["runuser", "-u", "postgres", "--", *command]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd="/")

    def start(self):
        options = f"-c listen_addresses=127.0.0.1 -c port={self.port} -c unix_socket_directories= -c fsync=off"
        self._run("pg_ctl", "-D", self.data, "-w", "-o", options, "-l", self.folder / "log", "start")

    def stop(self, mode="fast"):
        self._run("pg_ctl", "-D", self.data, "-w", "-m", mode, "stop")

    def url(self, database):
        return f"postgresql+psycopg://tenthwise@127.0.0.1:{self.port}/{database}"

    def new_database(self, like=None):
        """Make a database, empty or a copy of another one that nobody has open; return its address."""
        name = f"r{uuid.uuid4().hex[:12]}"
        pattern = "template0" if like is None else like.rpartition("/")[2]
        engine = create_engine(self.url("postgres"), isolation_level="AUTOCOMMIT")
        with engine.connect() as connection:
            connection.exec_driver_sql(f"CREATE DATABASE {name} TEMPLATE {pattern} STRATEGY FILE_COPY")
        engine.dispose()
        return self.url(name)


def postgres_programs():
    """Return the folder of the server's programs, or None."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if found:
        return found[-1].parent
    asked = shutil.which("initdb")
    return Path(asked).resolve().parent if asked else None


def new_server():
    """Start a server, or skip by name where there is none; with CI set a missing one is a failure."""
    programs = postgres_programs()
    if programs is None:
        if os.environ.get("CI"):
            pytest.fail("the PostgreSQL server programs are missing (Debian: apt-get install postgresql)")
        pytest.skip("the PostgreSQL server programs are not on this system (Debian: apt-get install postgresql)")
    memory = Path("/dev/shm")
    roomy = memory.is_dir() and shutil.disk_usage(memory).free > 4e9
    folder = Path(tempfile.mkdtemp(prefix="tenthwise-pg-", dir=memory if roomy else None))
    server = Server(programs, folder)
    server.start()
    return server


@pytest.fixture(scope="session")
def postgres_server():
    server = new_server()
    yield server
    server.stop("immediate")
    shutil.rmtree(server.folder, ignore_errors=True)


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def url(request, tmp_path):
    """The address of a record that is not there yet."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'record.sqlite'}"
    return request.getfixturevalue("postgres_server").new_database()


@pytest.fixture(scope="session")
def blank_file(tmp_path_factory):
    path = tmp_path_factory.mktemp("blank") / "record.sqlite"
    open_record(path).close()
    return path


@pytest.fixture(scope="session")
def blank_database(postgres_server):
    url = postgres_server.new_database()
    open_record(url).close()
    return url


@pytest.fixture
def record(url, request, tmp_path):
    """An empty record that is open; made from a pattern, as making one takes a while."""
    if url.startswith("sqlite"):
        shutil.copy(request.getfixturevalue("blank_file"), url.removeprefix("sqlite:///"))
    else:
        url = request.getfixturevalue("postgres_server").new_database(like=request.getfixturevalue("blank_database"))
    with open_record(url) as opened:
        yield opened


@pytest.fixture(scope="session")
def job_text():
    return JOB
