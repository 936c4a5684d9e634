"""Rating of a million heads against bare numpy of the same law."""

import math
import time
from collections.abc import Callable

import numpy as np

from app.hydraulics.families.registry import build
from app.hydraulics.rating.rate import rate

HEADS = 1_000_000
GOAL = 0.25
ROUNDS = 25


def best_of(*jobs: Callable[[], object]) -> list[float]:
    """Return the best time of each job, taken in turn so that both see the same machine."""
    best = [math.inf] * len(jobs)
    for _ in range(ROUNDS):
        for i, job in enumerate(jobs):
            started = time.perf_counter()
            kept = job()
            best[i] = min(best[i], time.perf_counter() - started)
            del kept
    return best


def run() -> list[str]:
    heads = np.random.default_rng(20261125).uniform(0.02, 0.8, HEADS)
    flume = build("parshall", {"size": "1ft"})
    tails = 0.8 * heads
    bare, rated, drowned = best_of(
        lambda: 0.6909 * heads**1.522,
        lambda: rate(flume, heads),
        lambda: rate(flume, heads, tails),
    )
    return [
        f"rate {HEADS} Parshall heads, flags and uncertainty: {bare / rated:.2f} of bare C*h**n "
        f"(goal >= {GOAL})",
        f"rate {HEADS} Parshall heads, all drowned: {bare / drowned:.2f} of bare C*h**n",
    ]


if __name__ == "__main__":
    print("\n".join(run()))
