"""One row of the calibration's table from what happened, in the shape that ``run.py`` tells."""

import numpy as np

SAID = 0.95


def row(what, setting, hits, low=0.94, high=0.96, said=SAID, note=""):
    """Return one row from an array of hits."""
    hits = np.asarray(hits, dtype=float)
    return {
        "what": what,
        "setting": setting,
        "said": said,
        "happened": float(hits.mean()),
        "tries": hits.size,
        "low": low,
        "high": high,
        "note": note,
    }
