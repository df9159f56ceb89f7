"""The vendor's price ladders: kept in versions, read from a file, and what they say of an order and of purchases.

A ladder is named by the day that it is valid from, and counts until the next one's. A change states the version that it
replaces, and adds one; nothing that was said is lost.
"""

from dataclasses import dataclass
from datetime import date

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.entries import Entry, Purchase
from pool_api.domain.errors import NoLadder, NotFound
from pool_api.domain.ladder import Ladder, Order, Tier, valid_on
from pool_api.domain.values import Month
from pool_api.intake.ladder import read_ladder as read_ladder_file
from pool_api.services.office import Office
from pool_api.services.versions import agree
from pool_api.store import directory, journal, plans
from pool_api.store.engine import Connection, reading, writing
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
class CheckedPurchase:
    """A purchase beside the ladder of its day; ladder None where none counted, order None below its smallest order.
    undone is how much of it is reversed."""

    entry: Entry
    body: Purchase
    ladder: Ladder | None
    order: Order | None
    undone: int


def list_ladders(
    office: Office, caller: Caller, pool: str, *, after: date | None, limit: int
) -> list[tuple[LadderVersion, Ladder]]:
    """Give the ladders that stand, by the day that they are valid from. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_LADDER)
    with reading(office.engine, pool) as connection:
        found = plans.read_ladders(connection, pool, after=after, limit=limit)
    return [(each, _lawful(office, pool, each.valid_from, each.tiers or ())) for each in found]


def read_ladder(office: Office, caller: Caller, pool: str, valid_from: date) -> tuple[LadderVersion, Ladder]:
    """Give the ladder that is valid from a day. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_LADDER)
    with reading(office.engine, pool) as connection:
        found = plans.read_ladder(connection, pool, valid_from)
    if found is None or found.tiers is None:
        raise NotFound(what="price ladder from", name=valid_from.isoformat())
    return found, _lawful(office, pool, valid_from, found.tiers)


def list_versions(
    office: Office, caller: Caller, pool: str, valid_from: date, *, before: int | None, limit: int
) -> list[LadderVersion]:
    """Give all that was said of the ladder that is valid from a day, newest first. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_LADDER)
    with reading(office.engine, pool) as connection:
        found = plans.read_versions(connection, pool, valid_from, before=before, limit=limit)
    if not found and before is None:
        raise NotFound(what="price ladder from", name=valid_from.isoformat())
    return found


def put_ladder(  # noqa: PLR0917 - a ladder, and what it replaces
    office: Office, caller: Caller, pool: str, valid_from: date, tiers: tuple[Tier, ...], version: int | None
) -> tuple[LadderVersion, Ladder]:
    """Enter a ladder (version None) or change one, and give it with its new version.

    Refuses: NotFound, NotPermitted, LadderUnlawful, AlreadyThere, VersionStale."""
    access.permit_into(caller, pool, Right.CHANGE_LADDER)
    ladder = _lawful(office, pool, valid_from, tiers)
    return _add(office, caller, pool, valid_from, tiers, version), ladder


def withdraw_ladder(office: Office, caller: Caller, pool: str, valid_from: date, version: int) -> None:
    """Let the ladder that is valid from a day count no more; its versions stay.

    Refuses: NotFound, NotPermitted, VersionStale."""
    access.permit_into(caller, pool, Right.CHANGE_LADDER)
    _add(office, caller, pool, valid_from, None, version)


def _add(  # noqa: PLR0917 - a version says all of this
    office: Office, caller: Caller, pool: str, valid_from: date, tiers: tuple[Tier, ...] | None, version: int | None
) -> LadderVersion:
    with writing(office.engine, pool) as connection:
        if journal.lock_head(connection, pool) is None:
            raise NotFound(what="pool", name=pool)
        there = plans.read_ladder(connection, pool, valid_from)
        standing = there.version if there and there.tiers else None
        agree("price ladder from", valid_from.isoformat(), standing, version)
        made = LadderVersion(
            valid_from=valid_from,
            version=there.version + 1 if there else 1,
            tiers=tiers,
            written_at=office.instant(),
            written_by=access.signature(caller),
        )
        plans.write_ladder(connection, pool, made)
        directory.raise_version(connection, pool)
    return made


def propose_ladders(
    office: Office, caller: Caller, pool: str, content: bytes, valid_from: date | None
) -> tuple[Ladder, ...]:
    """Read ladders from a file, by the day that they are valid from; nothing is kept.

    Refuses: NotFound, NotPermitted, LadderUnlawful, ColumnMissing, FileUnreadable, FileTooLarge."""
    access.permit_into(caller, pool, Right.CHANGE_LADDER)
    read = read_ladder_file(content, valid_from)
    return tuple(_lawful(office, pool, day, tiers) for day, tiers in read.items())


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
