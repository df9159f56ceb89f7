"""What a credit would cost to replace: the unit price that the next order would have, from the ladder and the plans."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import lru_cache

from pool_api.domain.entries import Purchase
from pool_api.domain.ladder import Order, valid_on
from pool_api.domain.planning import best_plan
from pool_api.domain.values import STOCK, Month
from pool_api.services.office import Office
from pool_api.store import facts, journal, plans
from pool_api.store.engine import Connection, reading


class Basis(StrEnum):
    """Where the size of the next order is from: the newest plan, the last purchase into stock, or the ladder's smallest
    order."""

    PLANNED = "planned"
    LAST_PURCHASE = "last_purchase"
    SMALLEST_ORDER = "smallest_order"


@dataclass(frozen=True, slots=True, kw_only=True)
class Replacement:
    """The order that would replace credits, priced by the ladder of the day, and where its size is from."""

    basis: Basis
    ladder: date
    order: Order


_planned = lru_cache(maxsize=64)(best_plan)
"""A setting's plan never changes, and many ask for its next order."""


def replacement_on(office: Office, pool: str, day: date | None = None) -> Replacement | None:
    """Give what the next order would be on a day, today unless stated. Refuses: NotFound."""
    with reading(office.engine, pool) as connection:
        return replacement(office, connection, pool, day or office.pool_today(pool))


def replacement(office: Office, connection: Connection, pool: str, day: date) -> Replacement | None:
    """Give what the next order would be on a day, None without a ladder that counts then.

    Its size is that of the next order of the newest plan made by then, if that is for the day's month or a later one;
    else that of the last purchase into stock by then of which something stands; else the smallest.
    Source: own rule, decision 52."""
    ladder = valid_on(plans.read_lawful(connection, pool, office.currency(pool)), day)
    if ladder is None:
        return None
    basis, size = _size(connection, pool, day, office.day_end(pool, day)) or (Basis.SMALLEST_ORDER, ladder.least)
    order = ladder.order(max(size, ladder.least))
    return None if order is None else Replacement(basis=basis, ladder=ladder.valid_from, order=order)


def _size(connection: Connection, pool: str, day: date, end: str) -> tuple[Basis, int] | None:
    for kept in plans.read_plans(connection, pool, before=None, limit=1, made_before=end):
        following = _planned(kept.setting).next_order
        if following and following.order and following.month >= Month.of(day):
            return Basis.PLANNED, following.order.quantity
    for purchase in facts.read_newest(connection, pool, Purchase.kind, to_day=day):
        if isinstance(purchase.body, Purchase) and purchase.body.into == STOCK:
            undone = journal.read_undone(connection, pool, [purchase.number]).get(purchase.number, 0)
            if undone < purchase.body.quantity:
                return Basis.LAST_PURCHASE, purchase.body.quantity - undone
    return None
