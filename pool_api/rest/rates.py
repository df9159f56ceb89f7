"""How many requests in a short time are too many: one token bucket per name, in whole nanoseconds.

A bucket holds `burst` tokens and gains `per_second` of them each second; a request takes one. What is stored of a
bucket is the instant at which it will be full again (the generic cell rate algorithm). Each process counts for itself.
"""

from collections.abc import Callable
from dataclasses import dataclass

_SECOND = 1_000_000_000
_MOST_BUCKETS = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """burst requests at once, per_second of them lastingly."""

    burst: int
    per_second: int


class Buckets:
    """The buckets of one rate, by name."""

    def __init__(self, rate: Rate, monotonic_ns: Callable[[], int]) -> None:
        self._gain = _SECOND // rate.per_second
        self._depth = self._gain * rate.burst
        self._now = monotonic_ns
        self._full_at: dict[str, int] = {}

    def take(self, name: str) -> int:
        """Take a token from a bucket. Gives 0, or when it is empty the whole seconds until there is one, at least 1."""
        now = self._now()
        full_at = max(self._full_at.get(name, 0), now) + self._gain
        if full_at - now > self._depth:
            return -(-(full_at - now - self._depth) // _SECOND)
        if len(self._full_at) >= _MOST_BUCKETS and name not in self._full_at:
            self._make_room(now)
        self._full_at[name] = full_at
        return 0

    def wait(self, name: str) -> int:
        """Give the whole seconds until a bucket has a token, 0 when it has one, without taking it."""
        now = self._now()
        over = max(self._full_at.get(name, 0), now) + self._gain - now - self._depth
        return -(-over // _SECOND) if over > 0 else 0

    def _make_room(self, now: int) -> None:
        """Forget the full buckets; where none is full, the half that was started first."""
        kept = {name: full_at for name, full_at in self._full_at.items() if full_at > now}
        if len(kept) == len(self._full_at):
            kept = dict(list(kept.items())[len(kept) // 2 :])
        self._full_at = kept
