"""How often passwords and codes may be tried, and how many are looked at together.

Theory. A wrong password makes the next try wait, twice as long each time, by three counts:
    - the address, whatever names it tries;
    - the address and the name together;
    - the name, whatever addresses try it, but only for addresses that it has never signed in from, and for a minute at
      the most. So whoever tries a name again and again can't keep its owner out at the usual place, and elsewhere not
      for long.
A try counts before it is looked at, so that many at once are no way around; it is given back when it was right. Names
that nobody has count alike. Each process counts for itself.

Hashing takes memory and a processor each, so few threads do it, of their own: everybody else's requests keep theirs.
"""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import Annotated, TypeVar

from fastapi import Depends, Request
from starlette.concurrency import run_in_threadpool

from pool_api.domain.access import Caller
from pool_api.domain.errors import CodeRefused, SignInRefused, TicketVoid
from pool_api.rest.errors import RateLimited
from pool_api.services import sessions
from pool_api.services.office import Office

T = TypeVar("T")

MOST_WAITING = 64
"""Passwords that may wait to be looked at; beyond, the service says that it is busy."""

_WRONG = (SignInRefused, TicketVoid, CodeRefused)
"""What a guess is refused with."""

_SECOND = 1_000_000_000
_CALM = 3_600 * _SECOND
_MOST_COUNTS = 100_000


class Waits:
    """Waits that grow: so many tries are free, then each makes the next wait, 1 s at first and twice as long each time.

    Counts are forgotten after an hour without a try."""

    def __init__(self, *, free: int, longest_s: int, monotonic_ns: Callable[[], int]) -> None:
        self._free = free
        self._longest = longest_s * _SECOND
        self._now = monotonic_ns
        self._counts: dict[str, tuple[int, int]] = {}

    def wait(self, name: str) -> int:
        """Give the whole seconds until a try is looked at, 0 for now."""
        count, last = self._count(name)
        if count <= self._free:
            return 0
        pause = min(_SECOND << min(count - self._free - 1, 40), self._longest)
        return max(0, -(-(last + pause - self._now()) // _SECOND))

    def take(self, name: str) -> None:
        """Count a try."""
        if len(self._counts) >= _MOST_COUNTS and name not in self._counts:
            self._counts = dict(list(self._counts.items())[_MOST_COUNTS // 2 :])
        self._counts[name] = (self._count(name)[0] + 1, self._now())

    def give_back(self, name: str) -> None:
        """Take back one try that was counted."""
        count, last = self._count(name)
        self._counts[name] = (max(0, count - 1), last)

    def forget(self, name: str) -> None:
        """Begin anew."""
        self._counts.pop(name, None)

    def _count(self, name: str) -> tuple[int, int]:
        count, last = self._counts.get(name, (0, 0))
        return (0, 0) if self._now() - last > _CALM else (count, last)


class SignIns:
    """Lets passwords be tried."""

    def __init__(self, monotonic_ns: Callable[[], int], *, together: int) -> None:
        """Takes: monotonic_ns — a clock, for the waits only; together — passwords that are looked at at one time."""
        self._by_peer = Waits(free=30, longest_s=900, monotonic_ns=monotonic_ns)
        self._by_pair = Waits(free=5, longest_s=900, monotonic_ns=monotonic_ns)
        self._by_name = Waits(free=10, longest_s=60, monotonic_ns=monotonic_ns)
        self._threads = ThreadPoolExecutor(together, thread_name_prefix="passwords")
        self._waiting = 0

    async def attempt(
        self, work: Callable[[], T], *, peer: str, name: str, is_usual: bool, delayed: Callable[[], None]
    ) -> T:
        """Do work that looks at a password or a code, and count it unless that was right.

        Takes:   name — what the password is tried for; is_usual — whether it was right from this peer before;
                 delayed — done where it isn't looked at because of wrong ones before.
        Refuses: RateLimited, and as work does."""
        pair = f"{peer} {name}"
        counted = [(self._by_peer, peer), (self._by_pair, pair), *([] if is_usual else [(self._by_name, name)])]
        if wait := max(waits.wait(each) for waits, each in counted):
            await run_in_threadpool(delayed)
            raise RateLimited(retry_after=wait)
        for waits, each in counted:
            waits.take(each)
        try:
            done = await self.run(work)
        except _WRONG:
            raise
        except BaseException:
            self._give_back(counted)
            raise
        self._give_back(counted)
        self._by_pair.forget(pair)
        return done

    async def run(self, work: Callable[[], T]) -> T:
        """Do work that hashes. Refuses: RateLimited when too much of it waits already; as work does."""
        if self._waiting >= MOST_WAITING:
            raise RateLimited(retry_after=1)
        self._waiting += 1
        try:
            return await asyncio.get_running_loop().run_in_executor(self._threads, work)
        finally:
            self._waiting -= 1

    def close(self) -> None:
        """Do what waits, then stop."""
        self._threads.shutdown(wait=True)

    @staticmethod
    def _give_back(counted: list[tuple[Waits, str]]) -> None:
        for waits, each in counted:
            waits.give_back(each)


async def attempt_own(sign_ins: SignIns, office: Office, caller: Caller, peer: str, work: Callable[[], T]) -> T:
    """Do work that looks at a password or a code of somebody who has signed in. Refuses: as SignIns.attempt does."""
    delayed = partial(sessions.note_throttled_again, office, caller)
    return await sign_ins.attempt(work, peer=peer, name=caller.key_id, is_usual=False, delayed=delayed)


async def sign_ins_of(request: Request) -> SignIns:
    """Give what lets passwords be tried in the app that serves a request."""
    sign_ins: SignIns = request.app.state.sign_ins
    return sign_ins


SignInsOf = Annotated[SignIns, Depends(sign_ins_of)]
"""For a route's argument."""
