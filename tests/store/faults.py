"""Faults on demand between the program and its database driver: this file knows where SQLAlchemy calls the driver."""

from collections.abc import Callable
from typing import Any

import psycopg
from pysqlite3 import dbapi2 as sqlite
from sqlalchemy import Engine

CALLS = ("do_execute", "do_executemany", "do_execute_no_params", "do_commit")


class Faults:
    """Makes calls of the driver fail, as if the disk or the connection did. A failed call was not made."""

    def __init__(self, engine: Engine) -> None:
        self._dialect: Any = engine.dialect
        self._real: dict[str, Callable[..., None]] = {name: getattr(self._dialect, name) for name in CALLS}
        self._fails: Callable[[str], BaseException | None] = lambda _statement: None
        self._fails_after_commit = False
        for name in CALLS:
            setattr(self._dialect, name, self._watched(name))

    def _watched(self, name: str) -> Callable[..., None]:
        def call(*given: Any, **named: Any) -> None:
            statement = given[1] if len(given) > 1 else "COMMIT"
            if error := self._fails(statement):
                raise error
            self._real[name](*given, **named)
            if name == "do_commit" and self._fails_after_commit:
                self._fails_after_commit = False
                raise self._broken()

        return call

    def fail(self, place: int, *, for_good: bool) -> None:
        """Let the call at a place, counted from now, fail; for_good: and all after it."""
        made = 0

        def fails(_statement: str) -> BaseException | None:
            nonlocal made
            made += 1
            return self._broken() if made == place or (for_good and made > place) else None

        self._fails = fails

    def fail_after_commit(self) -> None:
        """Let the next commit take effect and then fail."""
        self._fails_after_commit = True

    def conflict_at(self, start: str, *, times: int) -> None:
        """Let the next statements with a start be refused by a constraint, so many times."""
        left = times

        def fails(statement: str) -> BaseException | None:
            nonlocal left
            if left and statement.startswith(start):
                left -= 1
                return self._conflict()
            return None

        self._fails = fails

    def mend(self) -> None:
        """Let all calls through again."""
        self._fails = lambda _statement: None

    def _broken(self) -> BaseException:
        if self._dialect.name == "postgresql":
            return psycopg.OperationalError("the connection is lost")
        return _told(sqlite.OperationalError("disk I/O error"), sqlite.SQLITE_IOERR)

    def _conflict(self) -> BaseException:
        if self._dialect.name == "postgresql":
            return psycopg.errors.UniqueViolation("a key is there already")
        return _told(sqlite.IntegrityError("UNIQUE constraint failed: entry"), sqlite.SQLITE_CONSTRAINT)


def _told(error: Any, code: int) -> BaseException:
    error.sqlite_errorcode = code
    made: BaseException = error
    return made
