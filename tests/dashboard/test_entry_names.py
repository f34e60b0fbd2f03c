"""Names that are awkward in an address reach the Log page as every other."""

import pytest

from dashboard.server import create_app
from tracker.record import open_record

JOB = """[job]
unit = "in"
[features."{name}"]
kind = "internal"
nominal = 0.625
"""


@pytest.mark.parametrize("name", ["left/right bore", "a//b", "..", "/", "50 % wide?", "é & ö #1", "a+b"])
def test_any_name_of_a_feature_can_be_logged(tmp_path, name):
    with open_record(tmp_path / "names.sqlite") as record:
        number = record.add_job(JOB.format(name=name), client_id="names").id
        client = create_app(record).server.test_client()
        body = {"feature": name, "piece": "1", "text": ".6252", "client_id": "one"}
        assert client.post(f"/api/jobs/{number}/readings", json=body).status_code == 200
        answer = client.get(f"/api/jobs/{number}/log", query_string={"feature": name})
        assert answer.status_code == 200
        assert answer.json["feature"]["name"] == name
        assert [reading["typed"] for reading in answer.json["readings"]] == [".6252"]


def test_a_feature_that_is_not_there_is_said(tmp_path):
    with open_record(tmp_path / "names.sqlite") as record:
        number = record.add_job(JOB.format(name="bore"), client_id="names").id
        answer = create_app(record).server.test_client().get(f"/api/jobs/{number}/log?feature=plug")
    assert answer.status_code == 404
    assert answer.json["error"] == "there is no feature 'plug' in job 1, revision 1; there are: bore"


def test_a_page_that_knows_the_state_is_not_sent_it_again(tmp_path):
    with open_record(tmp_path / "names.sqlite") as record:
        number = record.add_job(JOB.format(name="bore"), client_id="names").id
        client = create_app(record).server.test_client()
        first = client.get(f"/api/jobs/{number}/log?feature=bore").json
        again = client.get(f"/api/jobs/{number}/log?feature=bore&mark={first['mark']}").json
        assert again == {"mark": first["mark"], "same": True}
        record.add_reading(number, "bore", "1", ".6251", client_id="one")
        after = client.get(f"/api/jobs/{number}/log?feature=bore&mark={first['mark']}").json
    assert [reading["typed"] for reading in after["readings"]] == [".6251"]
    assert after["mark"] != first["mark"]
