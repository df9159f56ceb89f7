"""What coming months of a pool will need, from what its members used, and what people stated by hand."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from pool_api.domain.book import Book
from pool_api.domain.errors import NotFound
from pool_api.domain.needs import Coming, Forecast, History, Measured, Notice, Now, Shop, forecast, history_of
from pool_api.domain.needs import coming as coming_of
from pool_api.domain.values import Month
from pool_api.services.costs import used_by_month
from pool_api.services.office import Office
from pool_api.store import directory, journal, needs
from pool_api.store.engine import reading
from pool_api.store.needs import NeedVersion

NOT_MEASURED = Measured(members={}, pool=None)
"""For whoever doesn't ask how far off forecasts were: finding it takes ten times as long as the forecast."""

_forecast = lru_cache(maxsize=16)(forecast)
"""A history gives the same forecast all month."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """What needs of coming months are found from: the book as of its last entry, the history, what is stated by hand
    from the present month on."""

    today: date
    book: Book
    history: History
    shops: tuple[Shop, ...]
    stated: Mapping[tuple[str, Month], NeedVersion]

    @property
    def known(self) -> Forecast:
        """What the history lets expect."""
        return _forecast(self.history)

    def coming(self, off: Measured, months: int, notice: Notice) -> Coming:
        """Give what the present month and those after it need."""
        stated = {of: each.quantity for of, each in self.stated.items() if each.quantity is not None}
        now = Now(today=self.today, stock=self.book.stock, shops=self.shops, stated=stated)
        return coming_of(self.known, off, now, months, notice)


def basis(office: Office, pool: str) -> Basis:
    """Gather what a pool's needs are found from; members that have left have none. Refuses: NotFound."""
    used, today = used_by_month(office, pool), office.pool_today(pool)
    present = Month.of(today)
    with reading(office.engine, pool) as connection:
        book, stated = journal.read_book(connection, pool), needs.read_standing(connection, pool, present)
        found = directory.read_directory(connection, pool)
    if book is None or found is None:
        raise NotFound(what="pool", name=pool)
    there = sorted(found.members.values(), key=lambda member: member.code)
    members = [each for each in there if each.left_on is None or each.left_on >= today]
    history, this_month = history_of(used, members, found.pool.began_on, present), used.get(present, {})
    lengths = {code: len(series) for code, series in history.members}
    return Basis(
        today=today,
        book=book,
        history=history,
        shops=tuple(
            Shop(
                member=each,
                held=book.held.get(each.code, 0),
                used=this_month.get(each.code, 0),
                history=lengths[each.code],
            )
            for each in members
        ),
        stated=stated,
    )
