"""How long work takes: the median of some runs."""

from collections.abc import Callable
from statistics import median
from time import perf_counter
from typing import TypeVar

RUNS = 3

T = TypeVar("T")


def timed(work: Callable[[], T]) -> tuple[float, T]:
    """Give the median seconds of three runs, and what the last one gave."""
    times = []
    for _ in range(RUNS):
        began = perf_counter()
        outcome = work()
        times.append(perf_counter() - began)
    return median(times), outcome
