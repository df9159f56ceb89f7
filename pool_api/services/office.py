"""What every use case is handed: the database, the writer, and what varies (time, identifiers).

Knows no rule and decides nothing; made once by whoever composes the program.
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from threading import Lock
from typing import Any
from zoneinfo import ZoneInfo

from pool_api.domain import access
from pool_api.domain.access import Caller, Role
from pool_api.domain.errors import NotFound, NotPermitted, UnknownMember
from pool_api.domain.people import SessionRules
from pool_api.domain.values import Currency, instant_text
from pool_api.services.passwords import Passwords
from pool_api.services.refusals import Refusals
from pool_api.store import directory
from pool_api.store.directory import Directory
from pool_api.store.engine import Engine, reading
from pool_api.store.writer import Writer


@dataclass(frozen=True, slots=True, kw_only=True)
class Office:
    """now gives the aware present instant; random_hex gives that many bytes of a cryptographic random source as
    hexadecimal text. passwords hashes them; sessions says how long sessions last. callers remembers who some keys and
    sessions belong to (services/callers.py), costings what each pool's months add up to (services/costs.py), explained
    the figures of the month that was last asked about (services/explaining.py), of_nobody its entries that every
    statement looks at (services/documents.py), reconciliations the last comparisons with the vendor's record, to be
    changed with reconciling held (services/reconciling.py). refusals counts those that are written down, behind
    does it in a thread of its own (services/access_log.py)."""

    engine: Engine
    writer: Writer
    now: Callable[[], datetime]
    random_hex: Callable[[int], str]
    passwords: Passwords
    sessions: SessionRules
    callers: dict[str, tuple[Caller, datetime]] = field(default_factory=dict)
    costings: dict[str, Any] = field(default_factory=dict)
    explained: dict[str, Any] = field(default_factory=dict)
    of_nobody: dict[str, Any] = field(default_factory=dict)
    reconciliations: dict[Any, Any] = field(default_factory=dict)
    reconciling: Lock = field(default_factory=Lock)
    refusals: Refusals = field(default_factory=Refusals)
    behind: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(1, "refusals"))
    _fixed: dict[str, tuple[Currency, str]] = field(default_factory=dict)

    def instant(self) -> str:
        """Give the present as RFC 3339 text in UTC with microseconds."""
        return instant_text(self.now())

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

    def check_pool(self, pool: str) -> None:
        """Do nothing where there is such a pool. Refuses: NotFound."""
        self._fixed_terms(pool)

    def check_role(self, pool: str, role: Role, member: str | None) -> None:
        """Let a role in a pool pass that a key or a person may have. Refuses: NotFound, NotPermitted, UnknownMember."""
        if role in {Role.OPERATOR, Role.PERSON} or (role is Role.CLERK) != (member is not None):
            raise NotPermitted(role=role, reason="a clerk names its member, no other does, and no pool has operators")
        if member is not None and member not in self.directory(pool).members:
            raise UnknownMember(member=member)

    def check_fresh(self, caller: Caller) -> None:
        """Let a caller do what asks for the password again after a while. Refuses: ConfirmationRequired."""
        access.check_fresh(caller, self.instant(), minutes=self.sessions.fresh // timedelta(minutes=1))

    def check_sensitive(self, caller: Caller) -> None:
        """Let a caller change who may do what: a person with a second factor, who has given the password lately.

        Refuses: SecondFactorMissing, ConfirmationRequired."""
        access.check_second_factor(caller)
        self.check_fresh(caller)

    def currency(self, pool: str) -> Currency:
        """Give a pool's currency. Refuses: NotFound."""
        return self._fixed_terms(pool)[0]

    def pool_today(self, pool: str) -> date:
        """Give the present day in a pool's time zone. Refuses: NotFound."""
        return self.today(self._fixed_terms(pool)[1])

    def day_end(self, pool: str, day: date) -> str:
        """Give the instant at which a day is over in a pool's time zone, as instant() gives it. Refuses: NotFound."""
        zone = ZoneInfo(self._fixed_terms(pool)[1])
        return instant_text(datetime.combine(day + timedelta(days=1), time(), zone))

    def _fixed_terms(self, pool: str) -> tuple[Currency, str]:
        """Give the two terms that never change once a pool is made."""
        if pool not in self._fixed:
            terms = self.directory(pool).pool
            self._fixed[pool] = (terms.currency, terms.time_zone)
        return self._fixed[pool]
