"""Events in a batch's order of making."""

import pytest

from tracker.errors import ReadingsError
from tracker.readings import Event, read_events


def test_events_are_read(write, job, tmp_path):
    write(
        "events.csv",
        "Feature,After piece,Event,Amount\nbore,6,tool_change,\nShank,24,wheel dressing,+2 tenths\nbore,,Set-up,\n",
    )
    assert read_events(tmp_path, job) == [
        Event(feature="bore", after_piece="6", event="tool_change"),
        Event(feature="shank", after_piece="24", event="dressing", amount=0.0002),
        Event(feature="bore", after_piece="", event="setup"),
    ]
    assert str(read_events(tmp_path, job)[1]) == "dressing by +0.0002 after piece 24 (shank)"


def test_no_file_is_no_event(tmp_path, job):
    assert read_events(tmp_path, job) == []


def test_every_fault_is_named_with_its_row(write, job, tmp_path):
    write(
        "events.csv", "feature,after_piece,event,amount\nplug,1,dressing,\nbore,1,coffee,\nbore,1,offset_change,abc\n"
    )
    with pytest.raises(ReadingsError) as caught:
        read_events(tmp_path, job)
    lines = str(caught.value).splitlines()
    assert lines[0] == "events.csv, row 2: feature is 'plug', which is no feature of this job; accepted are bore, shank"
    assert "row 3: event is 'coffee'; accepted are tool_change, offset_change, dressing, setup" in lines[1]
    assert "row 4: 'abc' is not a length" in lines[2]


@pytest.mark.parametrize("text", ["feature,event\nbore,dressing\n", "a,b,c\n1,2,3\n"])
def test_a_missing_column_is_named(write, job, tmp_path, text):
    write("events.csv", text)
    with pytest.raises(ReadingsError, match=r"after_piece.*accepted is a first row of feature, after_piece, event"):
        read_events(tmp_path, job)
