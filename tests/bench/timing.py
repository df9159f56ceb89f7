"""How long work takes: the median of some runs."""

from collections.abc import Callable
from statistics import median
from time import perf_counter
from typing import TypeVar

RUNS = 3

T = TypeVar("T")


def timed(work: Callable[[], T], clock: Callable[[], float] = perf_counter) -> tuple[float, T]:
    """Give the median seconds of three runs by a clock, and what the last one gave."""
    times = []
    for _ in range(RUNS):
        began = clock()
        outcome = work()
        times.append(clock() - began)
    return median(times), outcome
