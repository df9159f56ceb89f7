"""A database with one month of many entries: as a writer would have left it, chained, with its projections.

The entries are by chance from a seed; nobody passes on more than it has, and some come late, in part or are reversed.
"""

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from itertools import islice
from random import Random

from pool_api.domain.book import Book, moves
from pool_api.domain.entries import (
    Body,
    Charge,
    Command,
    Draw,
    Entry,
    Loan,
    Payment,
    Purchase,
    Return,
    Reversal,
    Use,
    WriteOff,
    WriteOffReason,
    quantity_of,
)
from pool_api.domain.hashing import GENESIS, chained
from pool_api.domain.pool import Member, Policy, Pool
from pool_api.domain.values import STOCK, Currency, Month, instant_text
from pool_api.store import directory, journal
from pool_api.store.engine import Engine, writing

POOL = "riverside"
MONTH = Month(2026, 10)
NOW = datetime(2026, 11, 10, 12, tzinfo=UTC)
_AT_ONCE = 20_000
_NEIGHBOURS = 10
"""How many shops each deals with on either side."""


def shops(count: int) -> list[Member]:
    """Give members who joined before anything happened."""
    codes = (f"SHOP-{number:03d}" for number in range(count))
    return [Member(code=code, name=code.title(), joined_on=MONTH.first) for code in codes]


class Counter:
    """A counter where whatever chance asks for is recorded if the book allows it."""

    def __init__(self, members: list[Member], seed: int = 20261125) -> None:
        self.chance = Random(seed)  # noqa: S311 - a repeatable month, no secrets
        self.codes = [each.code for each in members]
        self.book = Book(first_month=MONTH)
        self.recent: list[Entry] = []
        self.targets: dict[int, Entry] = {}

    def entries(self, count: int) -> Iterator[Entry]:
        """Give entries of the month in order of number, a twentieth of them dated late."""
        at = instant_text(NOW)
        number, previous = 0, GENESIS
        while number < count:
            day = min(30, 31 * number // count)
            late = self.chance.randint(0, day) if self.chance.random() < 0.05 else day
            on = MONTH.first + timedelta(days=late)
            body, target = self._wanted(number, on)
            command = Command(body=body, effective_on=on, recorded_by="keeper/-/000000000000", note="counter sale")
            entry = chained(POOL, number + 1, previous, command, at)
            if any(self.book.at(move) + move.change < 0 for move in moves(entry, target)):
                continue
            self.book.apply(entry, target)
            if target:
                self.targets[target.number] = target
            number, previous = entry.number, entry.hash
            if not isinstance(body, Purchase | Reversal):
                self.recent = [*self.recent[-40:], entry]
            yield entry

    def _wanted(self, number: int, on: date) -> tuple[Body, Entry | None]:
        place = self.chance.randrange(len(self.codes))
        one, two = self.codes[place], self.codes[(place + self.chance.randint(1, _NEIGHBOURS)) % len(self.codes)]
        if self.chance.random() < 0.5:
            one, two = two, one
        if number % 50 == 0:
            return Purchase(into=STOCK, paid_by=one, quantity=2_000, amount=self._between(1_200_000, 1_500_000)), None
        if self.chance.random() < 0.01 and self.recent:
            target = self.chance.choice(self.recent)
            left = (quantity_of(target.body) or 1) - self.book.undone.get(target.number, 0)
            if left and on >= target.effective_on:
                quantity = None if quantity_of(target.body) is None else self._between(1, left)
                return Reversal(entry=target.number, quantity=quantity), target
        kind = self.chance.choices(_KINDS, _OFTEN)[0]
        return kind(self, one, two, number), None

    def _between(self, least: int, most: int) -> int:
        return self.chance.randint(least, most)

    def draw(self, one: str, _two: str, _number: int) -> Body:
        return Draw(member=one, quantity=self._between(10, 80))

    def loan(self, one: str, two: str, _number: int) -> Body:
        return Loan(lender=one, borrower=two, quantity=self._between(1, 9))

    def agreed(self, one: str, two: str, _number: int) -> Body:
        return Loan(lender=one, borrower=two, quantity=self._between(1, 9), unit_price="7.05")

    def back(self, one: str, two: str, _number: int) -> Body:
        return Return(lender=one, borrower=two, quantity=1)

    def use(self, one: str, _two: str, number: int) -> Body:
        item, price = f"TUNE-{self._between(1, 90)}", self._between(2_000, 90_000)
        return Use(member=one, quantity=self._between(1, 24), item=item, job=f"J-{number}", price=price)

    def lost(self, one: str, _two: str, _number: int) -> Body:
        holder = STOCK if self.chance.random() < 0.05 else one
        return WriteOff(holder=holder, quantity=1, reason=WriteOffReason.EXPIRED)

    def money(self, one: str, two: str, _number: int) -> Body:
        if self.chance.random() < 0.5:
            return Charge(from_member=one, to_member=two, amount=self._between(100, 9_000), reason="freight")
        return Payment(from_member=one, to_member=two, amount=self._between(100, 9_000))


_Kind = Callable[[Counter, str, str, int], Body]
_KINDS: tuple[_Kind, ...] = (
    Counter.use, Counter.draw, Counter.loan, Counter.agreed, Counter.back, Counter.lost, Counter.money,
)  # fmt: skip
_OFTEN = (50, 25, 16, 1, 4, 1, 3)


def fill(engine: Engine, entries: int, members: int, policy: Policy, custodian: str | None = None) -> None:
    """Make a pool and write a month of entries into it."""
    made = shops(members)
    counter = Counter(made)
    terms = Pool(
        id=POOL,
        name="Riverside",
        vendor="Norvane",
        currency=Currency("EUR"),
        time_zone="Europe/Vienna",
        began_on=MONTH.first,
        keeper_member=made[0].code,
        custodian=custodian,
        policy=policy,
    )
    with writing(engine, POOL) as connection:
        directory.create_pool(connection, terms)
        for member in made:
            directory.write_member(connection, POOL, member, exists=False)
    rest = counter.entries(entries)
    while batch := list(islice(rest, _AT_ONCE)):
        with writing(engine, POOL) as connection:
            journal.append(connection, POOL, batch, counter.targets)
    with writing(engine, POOL) as connection:
        journal.save_book(connection, POOL, Book(), counter.book)
