"""Readings that look mistyped: asked about, kept when confirmed, marked for good."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from tracker.job import Job


def find_suspects(
    frame: pd.DataFrame,
    job: Job | None,
    *,
    confirmed: np.ndarray | None = None,
    keep: bool = False,
    today: datetime.date | None = None,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    held = np.zeros(len(frame), dtype=bool)
    extra = {"question": pd.Series([], dtype="str"), "suggestion": pd.Series([], dtype="str")}
    return frame[~held].reset_index(drop=True), frame[held].reset_index(drop=True).assign(**extra)
