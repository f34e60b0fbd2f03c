"""A whole job judged: readings in, `Check` out, and the words that say it.

Each name is loaded on first use: a joint is judged alone too, and needs no statistics.
"""

from typing import TYPE_CHECKING

from tracker.handing import on_first_use

if TYPE_CHECKING:
    from tracker.judge.answers import (
        AssemblyCheck,
        Check,
        ClosureCheck,
        FeatureCheck,
        FitCheck,
        LeftOver,
        PairRow,
        PlannedCut,
        PlannedPair,
        ReadingsCount,
    )
    from tracker.judge.assembly import check, fingerprint, readings_of
    from tracker.judge.assembly_text import assembly_lines, assembly_pair_lines, closure_pair_lines
    from tracker.judge.gauges import GaugeCheck, judge_gauge
    from tracker.judge.single_text import gauge_lines, pair_lines, shift_lines, tray_lines, wear_lines
    from tracker.judge.text import check_lines, feature_lines, fit_lines, wear_verdict
    from tracker.judge.trays import trays_of
    from tracker.judge.words import Scale, plain_name

__all__ = [
    "AssemblyCheck",
    "Check",
    "ClosureCheck",
    "FeatureCheck",
    "FitCheck",
    "GaugeCheck",
    "LeftOver",
    "PairRow",
    "PlannedCut",
    "PlannedPair",
    "ReadingsCount",
    "Scale",
    "assembly_lines",
    "assembly_pair_lines",
    "check",
    "check_lines",
    "closure_pair_lines",
    "feature_lines",
    "fingerprint",
    "fit_lines",
    "gauge_lines",
    "judge_gauge",
    "pair_lines",
    "plain_name",
    "readings_of",
    "shift_lines",
    "tray_lines",
    "trays_of",
    "wear_lines",
    "wear_verdict",
]

__getattr__ = on_first_use(
    "tracker.judge",
    {
        "tracker.judge.answers": (
            "AssemblyCheck Check ClosureCheck FeatureCheck FitCheck LeftOver PairRow PlannedCut PlannedPair"
            " ReadingsCount"
        ),
        "tracker.judge.assembly": "check fingerprint readings_of",
        "tracker.judge.gauges": "GaugeCheck judge_gauge",
        "tracker.judge.single_text": "gauge_lines pair_lines shift_lines tray_lines wear_lines",
        "tracker.judge.assembly_text": "assembly_lines assembly_pair_lines closure_pair_lines",
        "tracker.judge.text": "check_lines feature_lines fit_lines wear_verdict",
        "tracker.judge.trays": "trays_of",
        "tracker.judge.words": "Scale plain_name",
    },
)
