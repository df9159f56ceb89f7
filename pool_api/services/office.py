"""What every use case is handed: the database, the writer, and what varies (time, identifiers).

Knows no rule and decides nothing; made once by whoever composes the program.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from sqlalchemy import Engine

from pool_api.domain.errors import NotFound
from pool_api.domain.values import Currency
from pool_api.store import directory
from pool_api.store.directory import Directory
from pool_api.store.engine import reading
from pool_api.store.writer import Writer


@dataclass(frozen=True, slots=True, kw_only=True)
class Office:
    """now gives the aware present instant; random_hex gives that many bytes of a cryptographic random source as
    hexadecimal text."""

    engine: Engine
    writer: Writer
    now: Callable[[], datetime]
    random_hex: Callable[[int], str]
    _currencies: dict[str, Currency] = field(default_factory=dict)

    def instant(self) -> str:
        """Give the present as RFC 3339 text in UTC with microseconds."""
        return self.now().astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")

    def today(self, time_zone: str) -> date:
        """Give the present day in a time zone of the IANA database."""
        return self.now().astimezone(ZoneInfo(time_zone)).date()

    def directory(self, pool: str) -> Directory:
        """Give a pool's terms and members. Refuses: NotFound."""
        with reading(self.engine, pool) as connection:
            found = directory.read_directory(connection, pool)
        if found is None:
            raise NotFound(what="pool", name=pool)
        return found

    def currency(self, pool: str) -> Currency:
        """Give a pool's currency, which never changes once the pool is made. Refuses: NotFound."""
        if pool not in self._currencies:
            self._currencies[pool] = self.directory(pool).pool.currency
        return self._currencies[pool]
