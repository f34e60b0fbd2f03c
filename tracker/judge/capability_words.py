"""What is said of a capability beside its figures: the share beyond the limits, and what all sizes share."""

from __future__ import annotations

import math

import numpy as np

from tracker.fit.batch_spread import normal_share
from tracker.judge.answers import FeatureCheck
from tracker.judge.joined import COVERAGE
from tracker.judge.layout import chance_words
from tracker.judge.words import Scale
from tracker.spread import Capability

SHARED_COUNTS = 1.0
"""Of the standard error of the mean, over which what all sizes share is said too (our choice, no source)."""


def beyond_words(feature: FeatureCheck) -> str:
    """Return the share of pieces beyond the limits: with mean and spread as found, at most, and of the next pieces.

    The first takes mean and spread for known; the last counts in what so few pieces, and the gauge, leave open. After
    an event, or with wear, the next pieces are not those of the whole batch, and it says so.
    """
    if feature.capability is None:
        return ""
    beyond = feature.capability.beyond
    words = (
        f"expected beyond the limits {chance_words(beyond.estimate)} if mean and spread are just as found, at most"
        f" {chance_words(beyond.high)}"
    )
    shift = feature.shift
    if shift is None or shift.within_before is None:
        return words
    now = "as the machine stands now, " if shift.last_event or shift.slope else ""
    if shift.last_event:
        now = f"as the machine stands since the last {shift.last_event}, "
    return f"{words}; {now}{chance_words(1 - shift.within_before)} of the next pieces, all that is uncertain counted in"


def shared_words(feature: FeatureCheck, scale: Scale) -> str:
    """Return what a capability leaves out where all sizes share an uncertainty that counts beside their spread."""
    summary, found = feature.summary, feature.capability
    if summary is None or found is None:
        return ""
    if summary.common_uncertainty <= SHARED_COUNTS * found.overall_sd / math.sqrt(found.n):
        return ""
    reach = COVERAGE * summary.common_uncertainty
    words = (
        "capability is that of the readings as they are: what all sizes share, such as the calibration, may have moved"
        f" the whole batch by up to {scale.off(reach, signed=False)} {scale.small} either way (95 %)"
    )
    if found.distribution != "normal":
        return words
    worst = max(_beyond(found, shift) for shift in (-reach, reach))
    return f"{words}; moved so far, {chance_words(worst)} would be beyond the limits"


def _beyond(found: Capability, shift: float) -> float:
    """Return the share beyond the limits with the mean moved and the spread as found."""
    low = -math.inf if found.lower is None else found.lower
    high = math.inf if found.upper is None else found.upper
    return 1.0 - float(normal_share(found.mean + shift, np.asarray(found.overall_sd), low, high))
