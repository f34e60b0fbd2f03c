"""A dashboard with a job, a token that logs and one that reads, and a client that sends one of them."""

import pytest

from dashboard.people.door import Door
from dashboard.server import create_app
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
positions = ["top", "bottom"]

[features.shank]
kind = "external"
nominal = 0.6256
lower = 0.6250
upper = 0.6262

[fits.button_in_plate]
internal = "bore"
external = "shank"
gap = [-0.0009, -0.0003]
"""


class Cell:
    """A server, its record, and the tokens of two programs."""

    def __init__(self, record, door):
        self.record = record
        self.job = record.add_job(JOB, "lead", client_id="job").id
        self.tokens = {role: record.add_token(f"{role} cell", role)[1] for role in ("reads", "logs")}
        self.server = create_app(record, door=door).server

    def client(self, role="logs"):
        client = self.server.test_client()
        if role:
            client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {self.tokens[role]}"
        return client

    def send(self, *readings, role="logs", **more):
        body = {"job": self.job, "readings": [reading(**item) for item in readings]} | more
        return self.client(role).post("/api/v1/readings", json=body)


def reading(**changes):
    return {"feature": "shank", "piece": "1", "value": ".6254", "client_id": "c1"} | changes


@pytest.fixture(params=[False, True], ids=["no sign-in", "sign-in"])
def cell(request, tmp_path):
    with open_record(tmp_path / "shop.sqlite") as record:
        yield Cell(record, Door(sign_in=request.param))
