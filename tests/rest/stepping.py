"""Two requests taken apart into the steps that matter, and put together in any order: this file knows where a unit that
writes begins, writes first, and commits.

A session is a service of its own on the same database. Each stops before a step until it is let go; one that waits for
the other in the database is left waiting, as it would be."""

import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import combinations
from typing import Any

from sqlalchemy import Engine

STEPS = 3
BLOCKED_S = 0.03
"""Who hasn't come to its next step by then waits for the other; on a slow machine that is another order, no failure."""

LONGEST_S = 60


def orders() -> Iterator[str]:
    """Give every order in which the steps of two sessions, a and b, can follow each other."""
    for places in combinations(range(2 * STEPS), STEPS):
        yield "".join("a" if place in places else "b" for place in range(2 * STEPS))


class Session:
    """The write units of one service, a step at a time while somebody steps; otherwise as they come."""

    def __init__(self, engine: Engine) -> None:
        dialect: Any = engine.dialect
        self._unit = threading.local()
        self._changed = threading.Condition()
        self._stepped = self._waits = self._over = False
        self.begun = 0
        for name in ("do_execute", "do_execute_no_params", "do_commit"):
            setattr(dialect, name, self._watched(name, getattr(dialect, name)))

    def start(self) -> None:
        """Stop before each step from now on."""
        with self._changed:
            self._stepped, self._waits, self._over = True, False, False

    def end(self, *, over: bool) -> None:
        """Go on to the end without a stop; over tells that the request was answered."""
        with self._changed:
            self._stepped, self._over = False, over
            self._changed.notify_all()

    def step(self) -> None:
        """Let one step be made: from where it waits until it waits again, was answered, or waits for the other."""
        with self._changed:
            if self._changed.wait_for(lambda: self._waits or self._over, BLOCKED_S) and self._waits:
                self._waits = False
                self._changed.notify_all()
                self._changed.wait_for(lambda: self._waits or self._over, BLOCKED_S)

    def _watched(self, name: str, real: Callable[..., None]) -> Callable[..., None]:
        def call(*given: Any, **named: Any) -> None:
            if self._is_step("COMMIT" if name == "do_commit" else given[1]):
                self._stop()
            real(*given, **named)

        return call

    def _is_step(self, statement: str) -> bool:
        writes, wrote = getattr(self._unit, "state", (False, False))
        if statement.startswith("BEGIN"):
            writes, wrote, is_step = "IMMEDIATE" in statement or "READ WRITE" in statement, False, True
        elif statement == "COMMIT":
            is_step = True
        else:
            is_step = statement.startswith(("INSERT", "UPDATE")) and not wrote
            wrote = wrote or is_step
        self._unit.state = writes, wrote
        return writes and is_step

    def _stop(self) -> None:
        with self._changed:
            if not self._stepped:
                return
            self.begun += 1
            self._waits = True
            self._changed.notify_all()
            self._changed.wait_for(lambda: not (self._waits and self._stepped), LONGEST_S)
            self._waits = False


def interleaved(sessions: Sequence[Session], asks: Sequence[Callable[[], Any]], order: str) -> list[Any]:
    """Have both sessions asked at once, let their steps be made in an order, and give both answers."""
    by_name = dict(zip("ab", sessions, strict=True))
    for session in sessions:
        session.start()
    with ThreadPoolExecutor(len(sessions)) as threads:
        answers = [threads.submit(ask) for ask in asks]
        for session, answer in zip(sessions, answers, strict=True):
            answer.add_done_callback(lambda _, session=session: session.end(over=True))  # type: ignore[misc]
        for name in order:
            by_name[name].step()
        for session, answer in zip(sessions, answers, strict=True):
            session.end(over=answer.done())
        return [answer.result(LONGEST_S) for answer in answers]
