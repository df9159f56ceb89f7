"""Builders for movements of the journal and for rows of the vendor's record, with defaults, in the invented pool."""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from pool_api.domain.matching import Coverage, Difference, DifferenceKind, Match, Movement, Report, match
from pool_api.domain.record import MovementKind, RowFacts, VendorRow, numbered

ALDER, BIRCH, CEDAR, DOGWOOD, ELM = ACCOUNTS = ("alder-tuning", "birch-garage", "cedar-works", "dogwood", "elm-motors")
OCTOBER = (date(2026, 10, 1), date(2026, 10, 31))
COVERED: Coverage = {account: [OCTOBER] for account in ACCOUNTS}

TRANSFER, PURCHASE, USE, REFUND = MovementKind


def on(day: int, month: int = 10) -> date:
    """Give a day of 2026."""
    return date(2026, month, day)


def kind_of(giver: str | None, receiver: str | None) -> MovementKind:
    """Give the kind by its shape; credits from nobody are bought."""
    if giver and receiver:
        return TRANSFER
    return USE if giver else PURCHASE


def moved(
    entry: int,
    giver: str | None,
    receiver: str | None,
    quantity: int,
    day: date,
    note: str = "",
    *,
    kind: MovementKind | None = None,
    reverses: int | None = None,
    reference: str | None = None,
    amount: str | None = None,
) -> Movement:
    """Make a movement of the journal."""
    return Movement(
        entry=entry,
        day=day,
        kind=kind or kind_of(giver, receiver),
        giver=giver,
        receiver=receiver,
        quantity=quantity,
        note=note,
        reference=reference,
        amount=amount,
        reverses=reverses,
    )


def taken_back(entry: int, movement: Movement, quantity: int | None = None, day: date | None = None) -> Movement:
    """Make the reversal of a movement, wholly or in part."""
    kind = REFUND if movement.kind is USE else kind_of(movement.receiver, movement.giver)
    return moved(
        entry,
        movement.receiver,
        movement.giver,
        quantity or movement.quantity,
        day or movement.day,
        kind=kind,
        reverses=movement.entry,
    )


def shown(
    giver: str | None,
    receiver: str | None,
    quantity: int,
    day: date,
    note: str = "",
    *,
    kind: MovementKind | None = None,
    of: Sequence[str] | None = None,
    reference: str | None = None,
    amount: str | None = None,
) -> list[RowFacts]:
    """Say what the vendor shows of one movement, in the records of all its accounts in the pool, or of those named."""
    accounts = of if of is not None else [each for each in (giver, receiver) if each in ACCOUNTS]
    return [
        RowFacts(
            account=account,
            day=day,
            kind=kind or kind_of(giver, receiver),
            giver=giver,
            receiver=receiver,
            quantity=quantity,
            note=note,
            reference=reference,
            amount=amount,
        )
        for account in accounts
    ]


def rows_of(*seen: Iterable[RowFacts]) -> list[VendorRow]:
    """Number the rows as if each account's file listed them in the order given."""
    facts = [each for group in seen for each in group]
    rows: list[VendorRow] = []
    for account in ACCOUNTS:
        own = [each for each in facts if each.account == account]
        rows.extend(numbered(enumerate(own, start=2)))
    return rows


def compared(movements: Iterable[Movement], *seen: Iterable[RowFacts], coverage: Coverage = COVERED) -> Report:
    """Compare a journal with what the vendor shows."""
    return match(movements, rows_of(*seen), coverage)


def filler(count: int) -> tuple[list[Movement], list[list[RowFacts]]]:
    """Make so many clean transfers, each on both sides, so that weights have something to be measured by."""
    movements, seen = [], []
    for at in range(count):
        giver = ACCOUNTS[at % 5]
        receiver = ACCOUNTS[(at + 1 + at // 5 % 4) % 5]
        day, quantity, note = on(1) + timedelta(days=at * 7 % 31), 10 + at % 23, f"order {5000 + at}"
        movements.append(moved(1000 + at, giver, receiver, quantity, day, note))
        seen.append(shown(giver, receiver, quantity, day, note))
    return movements, seen


def said_of(report: Report, entry: int) -> list[Match | Difference]:
    """Give all findings about an entry."""
    findings: list[Match | Difference] = [*report.matches, *report.differences]
    return [each for each in findings if entry in each.entries]


def only(report: Report, kind: DifferenceKind) -> Difference:
    """Give the one difference of a kind."""
    (found,) = [each for each in report.differences if each.kind is kind]
    return found
