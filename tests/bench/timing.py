"""How long work takes: the median of some runs, or what processors worked on it, which other work leaves as it is."""

import os
from collections.abc import Callable
from pathlib import Path
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


def worked_s(ancestor: int) -> float:
    """Give the seconds that the processors have worked for a process on Linux, its children, and those of them that
    ended: for a PostgreSQL server, all that its connections and their helpers did."""
    ticks = 0
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            told = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        own, reaped = sum(map(int, told[11:13])), sum(map(int, told[13:15]))
        if int(stat.parent.name) == ancestor:
            ticks += own + reaped
        elif int(told[1]) == ancestor:
            ticks += own
    return ticks / os.sysconf("SC_CLK_TCK")


def parent_of(process: int) -> int:
    """Give the number of a process's parent, on Linux."""
    return int(Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[1])
