"""The vendor's price ladders: kept in versions, read from a file, and what they say of an order and of purchases.

A ladder is named by the day that it is valid from, and counts until the next one's.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.entries import Entry, Purchase
from pool_api.domain.errors import NoLadder
from pool_api.domain.ladder import Ladder, Order, Tier, valid_on
from pool_api.domain.values import Month
from pool_api.intake.ladder import LadderFile, read_ladders
from pool_api.intake.table import Table, read_table
from pool_api.services.dated import KeptByDay
from pool_api.services.files import ONE_AT_A_TIME
from pool_api.services.office import Office
from pool_api.store import journal, plans
from pool_api.store.engine import Connection, reading
from pool_api.store.journal import EntryFilter
from pool_api.store.plans import LadderVersion


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderPrice:
    """What an order costs on a day: asked is None below the smallest order; cheapest is of at least as many credits;
    cheaper are larger ones that cost less in total."""

    on: date
    ladder: Ladder
    asked: Order | None
    cheapest: Order
    cheaper: tuple[Order, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderRequest:
    """A file to be read as ladders: valid_from where no column says it, and the columns that are stated, by role."""

    content: bytes
    sheet: str | None
    valid_from: date | None
    columns: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class LaddersRead:
    """What a file says, as its columns were taken, and the ladders that it makes."""

    table: Table
    found: LadderFile
    ladders: tuple[Ladder, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedPurchase:
    """A purchase beside the ladder of its day; ladder None where none counted, order None below its smallest order.
    undone is how much of it is reversed."""

    entry: Entry
    body: Purchase
    ladder: Ladder | None
    order: Order | None
    undone: int


LADDERS = KeptByDay(
    store=plans.LADDERS,
    what="price ladder from",
    reads=Right.READ_LADDER,
    changes=Right.CHANGE_LADDER,
    moves_costs=True,
)


def list_ladders(
    office: Office, caller: Caller, pool: str, *, after: date | None, limit: int
) -> list[tuple[LadderVersion, Ladder]]:
    """Give the ladders that stand, by the day that they are valid from. Refuses: NotFound, NotPermitted."""
    found = LADDERS.standing(office, caller, pool, after=after, limit=limit)
    return [(each, _lawful(office, pool, each.valid_from, each.said or ())) for each in found]


def read_ladder(office: Office, caller: Caller, pool: str, valid_from: date) -> tuple[LadderVersion, Ladder]:
    """Give the ladder that is valid from a day. Refuses: NotFound, NotPermitted."""
    found = LADDERS.read(office, caller, pool, valid_from)
    return found, _lawful(office, pool, valid_from, found.said or ())


def put_ladder(  # noqa: PLR0917 - a ladder, and what it replaces
    office: Office, caller: Caller, pool: str, valid_from: date, tiers: tuple[Tier, ...], version: int | None
) -> tuple[LadderVersion, Ladder]:
    """Enter a ladder (version None) or change one, and give it with its new version.

    Refuses: NotFound, NotPermitted, LadderUnlawful, AlreadyThere, VersionStale."""
    access.permit_into(caller, pool, Right.CHANGE_LADDER)
    ladder = _lawful(office, pool, valid_from, tiers)
    return LADDERS.put(office, caller, pool, valid_from, tiers, plans.content_of(tiers), version), ladder


def propose_ladders(office: Office, caller: Caller, pool: str, asked: LadderRequest) -> LaddersRead:
    """Read ladders from a file, by the day that they are valid from; nothing is kept.

    Refuses: NotFound, NotPermitted, LadderUnlawful, ColumnMissing, FileUnreadable, FileTooLarge."""
    access.permit_into(caller, pool, Right.CHANGE_LADDER)
    with ONE_AT_A_TIME:
        table = read_table(asked.content, sheet=asked.sheet)
        found = read_ladders(table, asked.valid_from, asked.columns)
    ladders = tuple(_lawful(office, pool, day, tiers) for day, tiers in found.tiers.items())
    return LaddersRead(table=table, found=found, ladders=ladders)


def order_price(office: Office, caller: Caller, pool: str, quantity: int, on: date | None) -> OrderPrice:
    """Give what an order of a quantity costs on a day, today unless stated.

    Refuses: NotFound, NotPermitted, NoLadder, AmountOutOfRange."""
    access.permit_into(caller, pool, Right.READ_LADDER)
    day = on or office.pool_today(pool)
    with reading(office.engine, pool) as connection:
        ladder = valid_on(_ladders(office, connection, pool), day)
    if ladder is None:
        raise NoLadder(day=day.isoformat())
    return OrderPrice(
        on=day,
        ladder=ladder,
        asked=ladder.order(quantity),
        cheapest=ladder.cheapest(quantity),
        cheaper=ladder.cheaper(quantity),
    )


def check_purchases(
    office: Office, caller: Caller, pool: str, month: Month, *, after: int, limit: int
) -> list[CheckedPurchase]:
    """Give purchases that are effective in a month, each beside the ladder of its day, with numbers above after; a
    clerk gets its member's only.

    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_ENTRIES)
    own = access.own_side(caller, Right.READ_ENTRIES)
    wanted = EntryFilter(member=own, kinds=(Purchase.kind,), from_day=month.first, to_day=month.last)
    with reading(office.engine, pool) as connection:
        ladders = _ladders(office, connection, pool)
        entries = list(journal.read_entries(connection, pool, wanted, after=after, limit=limit))
        undone = journal.read_undone(connection, pool, [entry.number for entry in entries])
    return [
        _checked(entry, entry.body, ladders, undone.get(entry.number, 0))
        for entry in entries
        if isinstance(entry.body, Purchase)
    ]


def _checked(entry: Entry, body: Purchase, ladders: list[Ladder], undone: int) -> CheckedPurchase:
    ladder = valid_on(ladders, entry.effective_on)
    order = ladder.order(body.quantity) if ladder else None
    return CheckedPurchase(entry=entry, body=body, ladder=ladder, order=order, undone=undone)


def _ladders(office: Office, connection: Connection, pool: str) -> list[Ladder]:
    return plans.read_lawful(connection, pool, office.currency(pool))


def _lawful(office: Office, pool: str, valid_from: date, tiers: tuple[Tier, ...]) -> Ladder:
    return Ladder(valid_from=valid_from, currency=office.currency(pool), tiers=tiers)
