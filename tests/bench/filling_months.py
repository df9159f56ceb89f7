"""A database with three years of uses: of each member a draw and some uses in every month, and a purchase for all."""

from collections.abc import Iterator
from datetime import date, timedelta
from itertools import islice
from random import Random

from pool_api.domain.book import Book
from pool_api.domain.entries import Body, Command, Draw, Entry, Purchase, Reversal, Use
from pool_api.domain.hashing import GENESIS, chained
from pool_api.domain.pool import Member, Pool
from pool_api.domain.values import STOCK, Currency, Month, instant_text, months_between
from pool_api.store import directory, journal
from pool_api.store.engine import Engine, writing
from tests.bench.filling import NOW, POOL

MEMBERS, MONTHS = 300, 36
FIRST, LAST = Month(2023, 11), Month(2026, 10)
_CODES = [f"SHOP-{number:03d}" for number in range(MEMBERS)]
_AT_ONCE = 20_000


def _wanted(of_each: int, chance: Random) -> Iterator[tuple[Body, date]]:
    for month in months_between(FIRST, LAST):
        yield Purchase(into=STOCK, paid_by=_CODES[0], quantity=24 * of_each * MEMBERS, amount=9**9), month.first
        for code in _CODES:
            yield Draw(member=code, quantity=24 * of_each), month.first
        for at in range(of_each * MEMBERS):
            on = month.first + timedelta(days=28 * at // (of_each * MEMBERS))
            yield Use(member=_CODES[at % MEMBERS], quantity=chance.randint(1, 20), item="TUNE-1", job="J-1"), on


def _entries(of_each: int, book: Book, targets: dict[int, Entry]) -> Iterator[Entry]:
    """Give all entries; every hundredth use is undone in part a month later."""
    number, previous, at, late = 0, GENESIS, instant_text(NOW), list[Entry]()
    for body, on in _wanted(of_each, Random(20261130)):  # noqa: S311 - repeatable, no secrets
        undoing = isinstance(body, Purchase) and number
        for target in late if undoing else ():
            targets[target.number] = target
        undone: list[tuple[Body, Entry | None]] = [
            (Reversal(entry=each.number, quantity=1), each) for each in (late if undoing else ())
        ]
        for said, of in [*undone, (body, None)]:
            command = Command(body=said, effective_on=on, recorded_by="keeper/-/000000000000", note="")
            entry = chained(POOL, number + 1, previous, command, at)
            book.apply(entry, of)
            number, previous = entry.number, entry.hash
            if isinstance(said, Use) and number % 100 == 0:
                late.append(entry)
            yield entry
        late = [] if undoing else late


def fill_months(engine: Engine, of_each: int) -> int:
    """Make a pool and its journal, with so many uses of each member in every month, and give how many entries."""
    terms = Pool(
        id=POOL, name="Riverside", vendor="Norvane", currency=Currency("EUR"), time_zone="Europe/Vienna",
        began_on=FIRST.first, keeper_member=_CODES[0],
    )  # fmt: skip
    book, targets = Book(first_month=FIRST), dict[int, Entry]()
    with writing(engine, POOL) as connection:
        directory.create_pool(connection, terms)
        for code in _CODES:
            made = Member(code=code, name=code.title(), joined_on=FIRST.first)
            directory.write_member(connection, POOL, made, exists=False)
    rest = _entries(of_each, book, targets)
    while batch := list(islice(rest, _AT_ONCE)):
        with writing(engine, POOL) as connection:
            journal.append(connection, POOL, batch, targets)
    with writing(engine, POOL) as connection:
        journal.save_book(connection, POOL, Book(), book)
    return book.number
