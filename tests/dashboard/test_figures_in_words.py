"""Figures as pages write them: nothing has a sign, no chance is all, and nothing is said twice."""

import dataclasses
import json

import numpy as np
import pytest
from dash import html

from dashboard.pages.batch import _capability
from dashboard.parts.trays import trays_panel
from tracker.judge import Scale


def words_of(component):
    return json.dumps(component, default=lambda part: part.to_plotly_json(), ensure_ascii=False)


def test_a_capability_that_rounds_to_nothing_has_no_sign(sample):
    found = sample("rest_buttons").check.features[0]
    low = dataclasses.replace(found.capability.ppk, low=-0.0004)
    less = dataclasses.replace(found.capability.ppk, low=-0.31)
    good = dataclasses.replace(found.capability, ppk=low, cpk=less)
    text = words_of(_capability(dataclasses.replace(found, capability=good), Scale("in", found.step)))
    assert "-0." not in text
    assert "between 0.00 and" in text
    assert "between −0.31 and" in text


def test_no_tray_is_certain(sample):
    answer = sample("coupling_pins")
    fit = answer.check.fits[0]
    sure = dataclasses.replace(fit.classes, share=np.ones_like(fit.classes.share))
    text = words_of(trays_panel(fit, sure, answer.numbers(fit.internal, fit.external)))
    assert "over 99.9 %" in text
    assert "100 %" not in text


@pytest.mark.parametrize("job", ["rest_buttons", "coupling_pins", "guide_pins", "depth_stops"])
def test_how_many_pieces_would_show_it_is_said_once(sample, job):
    said = 0
    for found in sample(job).check.features:
        if found.capability is None:
            continue
        text = words_of(html.Div(_capability(found, Scale("in", found.step))))
        said = max(said, text.count("would show"))
        if found.capability.pieces_needed is not None and found.capability.pieces_needed > found.capability.n:
            assert text.count(f"{found.capability.pieces_needed} with this mean and spread would show it") == 1
            assert text.count("would show") == 1
    assert said <= 1
