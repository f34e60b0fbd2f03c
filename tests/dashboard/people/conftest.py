"""A dashboard in which people sign in, one of each role, and a browser of each that is in already."""

import datetime

import pytest

from dashboard.people.door import OWN_HEADER, Door, own_token
from dashboard.server import create_app
from tracker.record import ROLES, open_record

WORDS = "four words at the bench"
SHIFT = datetime.timedelta(hours=12)
JOB = """
[job]
name = "Leak-test nest, rest buttons"
unit = "in"

[features.shank]
kind = "external"
nominal = 0.6255
lower = 0.6250
upper = 0.6260
"""


class Shop:
    """A record with a job and one user of each role, named as the role, and the app before it."""

    def __init__(self, record, door=None):
        self.record = record
        self.door = door or Door(sign_in=True)
        self.app = create_app(record, bench="bench 2", door=self.door)
        self.server = self.app.server

    def browser(self, role="", *, token=True):
        """Return a client; with a role one that is signed in, and whose pages send the token of the session."""
        client = self.server.test_client()
        if role:
            secret = self.record.begin_session(role, SHIFT)
            client.set_cookie(self.door.session_cookie, secret)
            if token:
                client.environ_base[f"HTTP_{OWN_HEADER.upper().replace('-', '_')}"] = own_token(secret)
        return client


@pytest.fixture(scope="session")
def people_file(tmp_path_factory):
    path = tmp_path_factory.mktemp("people") / "shop.sqlite"
    with open_record(path) as record:
        for role in ROLES:
            record.add_user(role, role, WORDS)
        record.add_job(JOB, "lead")
        record.backup(path.with_name("pattern.sqlite"))
    return path.with_name("pattern.sqlite")


@pytest.fixture
def shop(people_file, tmp_path):
    from tracker.record import restore

    restore(people_file, tmp_path / "shop.sqlite")
    with open_record(tmp_path / "shop.sqlite") as record:
        yield Shop(record)


@pytest.fixture
def shop_of():
    """Return a function: record and door -> Shop."""
    return Shop
