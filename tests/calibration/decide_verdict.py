"""Whether a verdict holds: batches of known truth are measured with an imperfect gauge and judged, then pressed.

Bounds: where the tool says "press as they come" or "pair", all assemblies must be good at least as often as the
assurance asked, over all batches it says it of (it may be oftener: many of them are far from the limits).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tracker.decide import verdict
from tracker.fit import chance_any, pair

ASKED = 0.95
PIECES = (6, 8, 12)


def rows(rng: np.random.Generator, size: int) -> Iterator[dict]:
    """Yield the rows; a twentieth of ``size`` batches for each number of pieces."""
    tries = max(size // 20, 60)
    for n in PIECES:
        held: dict[str, list[bool]] = {"press as they come": [], "pair": []}
        said: dict[str, int] = {}
        for _ in range(tries):
            word, good = one_batch(rng, n)
            said[word] = said.get(word, 0) + 1
            if word in held:
                held[word].append(good)
        for word, results in held.items():
            if results:
                yield {
                    "what": f'said "{word}": all assemblies good',
                    "setting": f"n = {n} a side",
                    "said": ASKED,
                    "happened": float(np.mean(results)),
                    "tries": len(results),
                    "low": ASKED,
                    "high": 1.0,
                    "note": ", ".join(f"{count} {name}" for name, count in sorted(said.items())),
                }


def one_batch(rng: np.random.Generator, n: int) -> tuple[str, bool]:
    """Return the verdict on one batch, and whether following it gave good assemblies only (False: none pressed).

    Gap limits are 0 to 1. The batch, its spread and the gauge vary so that all verdicts come up.
    """
    spread, noise, common = rng.uniform(0.02, 0.25), rng.uniform(0.0, 0.08), rng.uniform(0.0, 0.05)
    internal = 10.0 + spread * rng.normal(size=n)
    external = 9.5 + 0.1 * rng.normal() + spread * rng.normal(size=n)
    shared = common * rng.normal()
    read_internal = internal + shared + noise * rng.normal(size=n)
    read_external = external + noise * rng.normal(size=n)
    terms = {"uncertainty": noise, "common_uncertainty": common}
    best = pair(read_internal, read_external, 0.0, 1.0, **terms)
    answer = verdict(
        internal=n,
        external=n,
        chance_all=chance_any(read_internal, read_external, 0.0, 1.0, rng=rng, **terms).all_measured,
        pairs_good=best.good,
        chance_pairs=best.chance_all,
        assurance=ASKED,
        gap_tolerance=1.0,
        gap_uncertainty=float(np.sqrt(2 * noise**2 + common**2)),
        worst_margin=best.worst_margin,
        near=int(best.near.sum()),
    )
    if answer.word == "press as they come":
        gap = internal - rng.permutation(external)
    elif answer.word == "pair":
        gap = internal[best.internal] - external[best.external]
    else:
        return answer.word, False
    return answer.word, bool(np.all((gap >= 0.0) & (gap <= 1.0)))
