"""tenthwise: will this batch of mating parts go together, and what to do about it.

The names below are what others may lean on; each is loaded on first use, so ``import tracker`` is quick.
"""

from tracker.handing import on_first_use

_HOMES = {
    "tracker.errors": "TrackerError NotEnoughData",
    "tracker.result": "Interval Result",
    "tracker.units": "parse_length format_length convert",
    "tracker.limits": "limits_iso fit_iso limits_ansi dowel_pin dowel_fit shop_hole plating_allowance",
    "tracker.job": "load_job parse_job Job",
    "tracker.readings": "read_readings iter_readings read_entry",
    "tracker.spread": "sizes summarize components capability normality outliers tolerance_factor tolerance_interval"
    " predict interval_fit",
    "tracker.drift": "chart_constants individuals_chart mean_range_chart mean_sd_chart ewma_chart cusum_chart"
    " deviation_chart standardised_chart stability_chart false_alarms wear_line wear_chart worn_capability",
    "tracker.gauge": "repeatability_study bias_study linearity_study go_no_go_study uncertainty_budget conformance"
    " guard_band resolution_check global_risk",
    "tracker.fit": "closure chance_any pair classes best_target seat corner_seat press_fit",
    "tracker.decide": "next_shift plan verdict pieces_to_make bounded_adjustment",
    "tracker.judge": "check",
    "tracker.record": "open_record",
}
__all__ = sorted(name for names in _HOMES.values() for name in names.split())
__version__ = "0.1.0"

__getattr__ = on_first_use("tracker", _HOMES)


def __dir__() -> list[str]:
    return [*__all__, "__version__"]
