"""How often a call is tried, and how long to wait between tries. No input or output: a conversation of plain values.

Theory. A call is tried again only where that can't do anything twice:
    - nothing has reached the service: it could not be connected to;
    - the service says that it is busy and that it did nothing;
    - whether it did something is unknown, but the call has an idempotency key, or doing it twice changes nothing.
The key is made once and stays the same over all tries. Pauses double up to a limit, each drawn at random between
nothing and that limit so that many clients don't come back together ("full jitter"); a pause that the service asks for
is kept, and where it asks for more than the caller's patience the call ends at once.
"""

import secrets
from collections.abc import Callable, Generator
from dataclasses import dataclass
from typing import TypeVar

from pool_client.calls.call import Answer, Call
from pool_client.errors import Busy, PoolError, ServerFault, Unreachable, error_from
from pool_client.wire import Unfit

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Patience:
    """How long a caller goes on. draw gives a number from 0 up to 1 at random."""

    tries: int = 5
    first_pause_s: float = 0.25
    longest_pause_s: float = 8.0
    draw: Callable[[], float] = secrets.SystemRandom().random

    def pause_s(self, tried: int, asked_s: float | None) -> float | None:
        """Give the pause after a number of tries, None to give up. asked_s is what the service asks for."""
        if tried >= self.tries or (asked_s or 0) > self.longest_pause_s:
            return None
        longest_s = min(self.first_pause_s * float(2 ** (tried - 1)), self.longest_pause_s)
        return (asked_s or 0) + self.draw() * longest_s


@dataclass(frozen=True, slots=True)
class Try:
    """Send the call under this key."""

    key: str | None


@dataclass(frozen=True, slots=True)
class Pause:
    """Wait."""

    seconds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost:
    """No answer came; connected as in Unreachable."""

    sentence: str
    connected: bool


Outcome = Answer | Lost | None
"""What a step brought: an answer or none for a Try, None for a Pause."""

_DID_NOTHING = frozenset({"rate-limited", "store-busy", "not-ready"})
"""Codes of a busy service that surely did nothing; a gateway, or a database that went away, leaves that open."""


def attempts(call: Call[T], key: str | None, patience: Patience) -> Generator[Try | Pause, Outcome, T]:
    """Say step by step what to do until the call has succeeded or failed.

    Takes:   key — the idempotency key, None for a call without one.
    Gives:   what the call's answer says.
    Refuses: any error of the tree, with the key in it."""
    tried = 0
    while True:
        outcome = yield Try(key)
        tried += 1
        try:
            return _result(call, outcome)
        except PoolError as error:
            error.idempotency_key = key
            safe = key is not None or call.harmless or _did_nothing(error)
            again = safe and isinstance(error, Busy | Unreachable)
            pause_s = patience.pause_s(tried, error.retry_after_s) if again else None
            if pause_s is None:
                raise
        yield Pause(pause_s)


def _did_nothing(error: PoolError) -> bool:
    return error.code in _DID_NOTHING or (isinstance(error, Unreachable) and not error.connected)


def _result(call: Call[T], outcome: Outcome) -> T:
    if isinstance(outcome, Answer):
        if 200 <= outcome.status < 300:
            return _understood(call, outcome)
        raise error_from(outcome.status, outcome.headers, outcome.content)
    if isinstance(outcome, Lost):
        raise Unreachable(outcome.sentence, connected=outcome.connected)
    raise TypeError("a try brings an answer or tells that it was lost")


def _understood(call: Call[T], answer: Answer) -> T:
    try:
        return call.understand(answer)
    except Unfit as flaw:
        raise ServerFault(f"The service's answer can't be read: {flaw}", status=answer.status) from None
