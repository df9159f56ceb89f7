"""Journals for the tests of costing: written by hand, or by chance as the book would have accepted them."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random

from hypothesis import strategies as st

from pool_api.domain.activity import Activity, gathered
from pool_api.domain.book import Book, SettlementPayment, moves
from pool_api.domain.chain import NOTHING, Link, month_chain
from pool_api.domain.costing import Terms, month_sheet
from pool_api.domain.entries import (
    Body,
    Charge,
    Direction,
    Draw,
    Entry,
    Loan,
    Opening,
    OpeningLoan,
    OpeningMember,
    Outside,
    Payment,
    Purchase,
    Return,
    Reversal,
    Use,
    WriteOff,
    WriteOffReason,
    quantity_of,
)
from pool_api.domain.ladder import Ladder, Tier
from pool_api.domain.pool import LoanPrice, LoansAtClose, Member, Policy, SavingRule, StockCosting
from pool_api.domain.sheets import Position, Sheet
from pool_api.domain.stock import StockMonth, replay
from pool_api.domain.values import STOCK, Currency, Month

CODES = ("ALDER", "BIRCH", "CEDAR", "DOGWOOD")
FIRST = date(2026, 11, 1)
MONTHS = (Month(2026, 11), Month(2026, 12), Month(2027, 1))

SETTLEMENT = SettlementPayment(id="2026-10-1", month=Month(2026, 10), payer="BIRCH", payee="ALDER", amount=10_000)
"""A payment that an earlier settlement asks for."""


def shops(*codes: str) -> list[Member]:
    """Give members of those codes, of equal shares, who joined before anything happened."""
    return [Member(code=code, name=code.title(), joined_on=date(2026, 1, 1)) for code in codes or CODES]


def use(member: str, quantity: int) -> Use:
    """Give a use whose item and job are of no interest."""
    return Use(member=member, quantity=quantity, item="TUNE-1", job="J-1")


def write_off(holder: str, quantity: int) -> WriteOff:
    """Give a write-off of lost credits."""
    return WriteOff(holder=holder, quantity=quantity, reason=WriteOffReason.LOST)


def bought(quantity: int, amount: int, paid_by: str = "ALDER") -> Purchase:
    """Give a purchase into stock."""
    return Purchase(into=STOCK, paid_by=paid_by, quantity=quantity, amount=amount)


@dataclass
class Journal:
    """Entries in the order of their numbers; write gives the number of the entry that it adds."""

    entries: list[Entry] = field(default_factory=list)

    def write(self, body: Body, day: int = 1, month: int = 0) -> int:
        """Add an entry that is effective on a day of the first, second or third month."""
        return self.write_on(body, MONTHS[month].first + timedelta(days=day - 1))

    def write_on(self, body: Body, on: date) -> int:
        """Add an entry that is effective on a date."""
        number = len(self.entries) + 1
        self.entries.append(numbered(number, body, on))
        return number

    def of(self, month: Month) -> list[Entry]:
        """Give the entries effective in a month."""
        return [each for each in self.entries if Month.of(each.effective_on) == month]


Event = tuple[int, int, int]
"""A day, credits (bought above 0, drawn below), and what they cost (0 for a draw)."""


def month_of(events: Sequence[Event], costing: StockCosting) -> StockMonth:
    """Give the stock's month of some purchases and draws."""
    journal = Journal()
    for day, quantity, amount in events:
        journal.write(bought(quantity, amount) if quantity > 0 else Draw(member="BIRCH", quantity=-quantity), day)
    return replay(journal.entries, by(costing))[MONTHS[0]]


def costs(month: StockMonth) -> list[int]:
    """Give what each outflow cost, in order."""
    return [outflow.cost for outflow in month.outflows]


Rules = Mapping[Month, Policy]
"""The policy of each month."""


def under(*policies: Policy) -> Rules:
    """Give the rules by which each month has its policy, or all the one that is given."""
    return dict(zip(MONTHS, policies if len(policies) > 1 else policies * len(MONTHS), strict=True))


def by(costing: StockCosting) -> Callable[[Month], StockCosting]:
    """Give one costing for every month."""
    return lambda _month: costing


policies = st.builds(
    Policy,
    stock_costing=st.sampled_from(StockCosting),
    loan_price=st.sampled_from(LoanPrice),
    loans_at_close=st.sampled_from(LoansAtClose),
    saving_rule=st.sampled_from(SavingRule),
)
all_rules = st.builds(under, policies) | st.builds(under, policies, policies, policies)
"""One policy for all months, or another in each."""


LADDER = Ladder(
    valid_from=date(2026, 1, 1),
    currency=Currency("EUR"),
    tiers=(Tier(1, "9.50"), Tier(5, "8.333333"), Tier(12, "7.05")),
)
"""By which policies share a saving: what a month draws of it reaches every tier, what a member draws seldom."""


def chained(journal: Journal, rules: Rules) -> Iterator[tuple[Sheet, Position]]:
    """Give the months' sheets and positions."""
    return ((link.sheet, position) for link, position in linked(gathered(journal.entries), rules))


def linked(
    activities: Mapping[Month, Activity], rules: Rules, kept: Mapping[Month, Link] = NOTHING
) -> Iterator[tuple[Link, Position]]:
    """Give the chain of the months. The first shop alone carries the cost of the closing stock: any carrying must keep
    the books."""
    members = shops()
    return month_chain(
        activities,
        months=MONTHS,
        terms_of=lambda month: Terms(policy=rules[month], members=members, currency=Currency("EUR"), ladder=LADDER),
        settle=lambda sheet: {CODES[0]: sheet.stock.closing.cost},
        kept=kept,
    )


def sheet_of(entries: Iterable[Entry], policy: Policy, members: Sequence[Member]) -> Sheet:
    """Give the first month's sheet, with nothing before it."""
    return month_sheet(
        month=MONTHS[0],
        opening=Position(),
        activity=gathered(entries).get(MONTHS[0], Activity()),
        originals={},
        terms=Terms(policy=policy, members=members, currency=Currency("EUR")),
    )


def numbered(number: int, body: Body, on: date) -> Entry:
    """Give an entry of which only the number, the body and the day matter."""
    return Entry(
        number=number,
        body=body,
        effective_on=on,
        recorded_at="2026-11-01T00:00:00.000000Z",
        recorded_by="keeper",
        note="",
        reference=None,
        previous_hash="",
        hash="",
    )


@dataclass(frozen=True)
class Wish:
    """What chance would like to record; which of it the book accepts is another matter."""

    kind: int
    day: int
    one: int
    two: int
    quantity: int
    amount: int
    target: int


_BODIES: tuple[Callable[[str, str, Wish], Body], ...] = (
    lambda one, _two, wish: bought(wish.quantity, wish.amount, one),
    lambda one, two, wish: Purchase(into=two, paid_by=one, quantity=wish.quantity, amount=wish.amount),
    lambda one, _two, wish: Draw(member=one, quantity=wish.quantity),
    lambda one, _two, wish: Draw(member=one, quantity=wish.quantity),
    lambda one, two, wish: Loan(lender=one, borrower=two, quantity=wish.quantity),
    lambda one, two, wish: Loan(lender=one, borrower=two, quantity=wish.quantity, unit_price="7.05"),
    lambda one, two, wish: Return(lender=one, borrower=two, quantity=wish.quantity),
    lambda one, _two, wish: use(one, wish.quantity),
    lambda one, _two, wish: write_off(one, wish.quantity),
    lambda _one, _two, wish: write_off(STOCK, wish.quantity),
    lambda one, _two, wish: Outside(
        member=one, direction=Direction.IN, party="elsewhere", quantity=wish.quantity, amount=wish.amount
    ),
    lambda one, _two, wish: Outside(
        member=one, direction=Direction.OUT, party="elsewhere", quantity=wish.quantity, amount=wish.amount
    ),
    lambda one, two, wish: Charge(from_member=one, to_member=two, amount=wish.amount, reason="freight"),
    lambda one, two, wish: Payment(from_member=one, to_member=two, amount=wish.amount),
    lambda one, two, wish: Payment(
        from_member=one, to_member=two, amount=wish.amount, pays=SETTLEMENT.id, beyond=wish.amount // 3
    ),
)
_REVERSALS = 6
"""Of how many further kinds of wishes each is a reversal."""


def wishes(days: int, *, reversals: bool = True) -> st.SearchStrategy[list[Wish]]:
    """Give lists of wishes over so many days from the first month's first on: short ones that shrink well, and long
    ones from a seed, of which the book accepts enough for rare things to happen."""
    kinds = len(_BODIES) + reversals * _REVERSALS
    short = st.lists(
        st.builds(
            Wish,
            kind=st.integers(0, kinds - 1),
            day=st.integers(0, days - 1),
            one=st.integers(0, len(CODES) - 1),
            two=st.integers(1, len(CODES) - 1),
            quantity=st.integers(1, 12),
            amount=st.integers(0, 5_000),
            target=st.integers(0, 60),
        ),
        max_size=12,
    )
    return short | st.builds(_many, st.integers(0, 2**40), st.just(days), st.just(kinds))


def _many(seed: int, days: int, kinds: int) -> list[Wish]:
    chance = Random(seed)  # noqa: S311 - made-up journals, no secrets
    return [
        Wish(
            kind=chance.randrange(kinds) if place > 5 else place % 3,
            day=chance.randrange(days),
            one=chance.randrange(len(CODES)),
            two=chance.randrange(1, len(CODES)),
            quantity=chance.randint(1, 12),
            amount=chance.choice((0, chance.randint(0, 90), chance.randint(0, 5_000))),
            target=chance.randint(0, 60),
        )
        for place in range(45)
    ]


openings = st.none() | st.builds(
    lambda members, quantity, cost, lent: Opening(
        members=tuple(
            OpeningMember(member=code, held=held, cost=held and paid, due=cost if code == "ALDER" else 0)
            for code, (held, paid) in zip(CODES, members, strict=True)
        ),
        stock_quantity=quantity,
        stock_cost=cost,
        loans=(OpeningLoan(lender="BIRCH", borrower="CEDAR", quantity=lent),) if lent else (),
    ),
    st.lists(st.tuples(st.integers(0, 9), st.integers(0, 3_000)), min_size=4, max_size=4),
    st.integers(1, 9),
    st.integers(0, 5_000),
    st.integers(0, 5),
)


def accepted(opening: Opening | None, asked: Sequence[Wish], rules: Rules, *, in_order: bool) -> Journal:
    """Give the journal of what the book accepts of some wishes: nobody passes on more than it has now, no more is
    reversed than is left, and no reversal leaves the stock with an impossible cost. Days are those of the wishes, late
    ones too, or in_order."""
    journal, book = Journal(), Book(payments={SETTLEMENT.id: SETTLEMENT})
    if opening:
        _record(journal, book, opening, FIRST, rules)
    for wish in sorted(asked, key=lambda each: each.day) if in_order else asked:
        on = FIRST + timedelta(days=wish.day)
        if body := _wanted(journal, book, wish, on, rules):
            _record(journal, book, body, on, rules)
    return journal


def _wanted(journal: Journal, book: Book, wish: Wish, on: date, rules: Rules) -> Body | None:
    if wish.kind >= len(_BODIES):
        return _reversal(journal, book, wish, on, rules)
    return _BODIES[wish.kind](CODES[wish.one], CODES[(wish.one + wish.two) % len(CODES)], wish)


def _reversal(journal: Journal, book: Book, wish: Wish, on: date, rules: Rules) -> Reversal | None:
    if not journal.entries:
        return None
    target = journal.entries[wish.target % len(journal.entries)]
    if isinstance(target.body, Opening | Reversal) or on < target.effective_on:
        return None
    whole = quantity_of(target.body)
    left = (whole or 1) - book.undone.get(target.number, 0)
    if not left:
        return None
    return Reversal(
        entry=target.number,
        quantity=None if whole is None else min(left, wish.quantity),
        still_open=_is_carried(target, Month.of(on), rules),
    )


def _is_carried(target: Entry, to: Month, rules: Rules) -> bool:
    passed = [each for each in MONTHS if Month.of(target.effective_on) <= each < to]
    unpriced = isinstance(target.body, Return) or (isinstance(target.body, Loan) and not target.body.unit_price)
    return unpriced and bool(passed) and all(rules[each].loans_at_close is LoansAtClose.CARRY for each in passed)


def _record(journal: Journal, book: Book, body: Body, on: date, rules: Rules) -> None:
    entry = numbered(len(journal.entries) + 1, body, on)
    target = journal.entries[body.entry - 1] if isinstance(body, Reversal) else None
    carried = isinstance(body, Reversal) and body.still_open
    if any(book.at(move) + move.change < 0 for move in moves(entry, target) if not (carried and move.borrower)):
        return
    months = replay((*journal.entries, entry), lambda month: rules[month].stock_costing)
    if any(month.impossible for month in months.values()):
        return
    book.apply(entry, target)
    journal.entries.append(entry)
