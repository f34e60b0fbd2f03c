"""What to do about sizes that are not known well enough: it hangs on which part of the uncertainty is in the way."""

from __future__ import annotations

from tracker.decide.words import first_up

COUNTS_FROM = 0.1
"""Share of the variance from which a part of the uncertainty is worth a sentence; under it the other part decides
(our choice, no source)."""

CALIBRATE = "have the gauge calibrated more closely, or set it against a master of known size"
ONE_FEEL = "let one operator measure, or have all of them read one master and agree on one feel"


def better_sizes(uncertainty: float, common: float, operators: float = 0.0) -> str:
    """Return what makes all sizes better known.

    Parameters
    ----------
    uncertainty : float
        Standard uncertainty of what is judged, all parts in it.
    common : float
        The part of it that all sizes share (calibration, temperature): repeated readings do not make it smaller.
    operators : float, optional
        The part of ``common`` that comes from operators who read the same pieces differently.

    Examples
    --------
    >>> better_sizes(2.0, 0.0)
    'Take a better gauge, or repeat every reading.'
    >>> better_sizes(2.0, 2.0)
    'Have the gauge calibrated more closely, or set it against a master of known size; repeats do not help.'
    >>> better_sizes(2.0, 2.0, 1.99)
    'Let one operator measure, or have all of them read one master and agree on one feel; repeats do not help.'
    """
    own, shared = _parts_that_count(uncertainty, common)
    helps = _helps_all_alike(common, operators)
    if not shared:
        return "Take a better gauge, or repeat every reading."
    if not own:
        return f"{first_up(helps)}; repeats do not help."
    return f"Take a better gauge, or repeat every reading; and {helps}, which repeats do not replace."


def measured_again(uncertainty: float, common: float, what: str = "", operators: float = 0.0) -> str:
    """Return how to measure again what lies too near a limit; ``what`` names it, all of it without a name.

    Examples
    --------
    >>> measured_again(2.0, 0.0, "the pieces near a limit")
    'Measure the pieces near a limit again with a better gauge or more repeats.'
    >>> measured_again(2.0, 2.0)
    'Have the gauge calibrated more closely, or set it against a master of known size, then measure again; repeats
    alone do not help.'
    """
    own, shared = _parts_that_count(uncertainty, common)
    helps = _helps_all_alike(common, operators)
    again = f"measure {what} again" if what else "measure again"
    if not shared:
        return f"{first_up(again)} with a better gauge or more repeats."
    if not own:
        return f"{first_up(helps)}, then {again}; repeats alone do not help."
    return f"{first_up(again)} with a better gauge or more repeats, and {helps}: repeats leave that part as it is."


def _helps_all_alike(common: float, operators: float) -> str:
    """Return what makes smaller what all sizes share, by where it comes from."""
    calibration, differing = _parts_that_count(common, operators)
    return ", and ".join([CALIBRATE] * (calibration or not differing) + [ONE_FEEL] * differing)


def _parts_that_count(uncertainty: float, common: float) -> tuple[bool, bool]:
    """Return whether what each size has of its own, and whether what all sizes share, is worth making smaller."""
    shared = min(common / uncertainty, 1.0) ** 2 if uncertainty > 0 else 0.0
    return 1.0 - shared > COUNTS_FROM, shared > COUNTS_FROM
