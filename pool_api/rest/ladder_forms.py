"""How price ladders, what orders cost by them, and purchases beside them are asked for and shown on the wire.

Costs are exact inside; shown they are rounded to the currency, half up, each by itself.
"""

from fractions import Fraction
from typing import Annotated, Any

from pydantic import Field

from pool_api.domain.ladder import MOST_TIERS, Ladder, Order, Tier
from pool_api.domain.values import Currency, half_up
from pool_api.rest.wire import (
    CreditCount,
    Credits,
    Day,
    EntryNumber,
    Holder,
    Instant,
    MemberCode,
    MoneyText,
    UnitPriceText,
    WireModel,
    stated,
)
from pool_api.services.ladders import CheckedPurchase, OrderPrice
from pool_api.services.ladders import LaddersRead as Read
from pool_api.store.plans import LadderVersion

Json = dict[str, Any]

Version = Annotated[int, Field(strict=True, ge=1, examples=[2], description="Counts the changes of a ladder.")]
Doubts = Annotated[list[str], Field(description="What is lawful but unusual.")]


class TierForm(WireModel):
    """Orders of so many credits or more cost the unit price for each of their credits."""

    from_credits: Credits
    unit_price: UnitPriceText

    def tier(self) -> Tier:
        """Give the core's tier."""
        return Tier(self.from_credits, self.unit_price)


class LadderForm(WireModel):
    """A price ladder: quantities rise from tier to tier; the first one begins at the smallest order."""

    tiers: Annotated[list[TierForm], Field(min_length=1, max_length=MOST_TIERS)]


class LadderShown(LadderForm):
    """A price ladder as it counts from a day on, until the next one's."""

    valid_from: Day
    version: Version
    written_at: Instant
    written_by: str
    doubts: Doubts


class LadderVersionShown(WireModel):
    """What was said of a ladder; without tiers where it was withdrawn."""

    version: Version
    written_at: Instant
    written_by: str
    tiers: list[TierForm] | None = None


class LadderRead(LadderForm):
    """A ladder as a file has it."""

    valid_from: Day
    doubts: Doubts


class LaddersRead(WireModel):
    """The ladders of a file, by the day that they are valid from: which column was taken for what, and of a spreadsheet
    the sheet that was read."""

    ladders: list[LadderRead]
    columns: dict[str, str]
    doubts: Annotated[list[str], Field(description="Of how the file was read.")]
    sheet: str | None = None
    other_sheets: list[str]


class OrderShown(WireModel):
    """One order, the tier that its size falls in, and what it costs."""

    quantity: Credits
    from_credits: Credits
    unit_price: UnitPriceText
    amount: MoneyText


class CheaperShown(OrderShown):
    """A larger order that costs less in total: by so many credits more, and by so much less."""

    more: Credits
    saves: MoneyText


class OrderPriceShown(WireModel):
    """What an order of a quantity costs. order is absent where it has no price, as below the smallest order; cheapest
    has at least as many credits; cheaper is in order of size, each order costing less than the one before it."""

    on: Day
    ladder: Day
    quantity: Credits
    order: OrderShown | None = None
    cheapest: OrderShown
    cheaper: list[CheaperShown]


class CheckedPurchaseShown(WireModel):
    """A purchase beside the ladder of its day. order is absent where no ladder counted, or below its smallest order;
    difference is the amount paid, fees included, less what the ladder says."""

    entry: EntryNumber
    on: Day
    into: Holder
    paid_by: MemberCode
    order_number: str | None = None
    quantity: Credits
    undone: CreditCount
    amount: MoneyText
    ladder: Day | None = None
    order: OrderShown | None = None
    difference: MoneyText | None = None


def show_tiers(tiers: tuple[Tier, ...]) -> list[Json]:
    """Give the tiers of a ladder."""
    return [{"from_credits": each.from_credits, "unit_price": each.unit_price} for each in tiers]


def show_ladder(version: LadderVersion, ladder: Ladder) -> Json:
    """Give a ladder that stands."""
    return {
        "valid_from": ladder.valid_from.isoformat(),
        "version": version.version,
        "tiers": show_tiers(ladder.tiers),
        "written_at": version.written_at,
        "written_by": version.written_by,
        "doubts": [*ladder.doubts()],
    }


def show_ladders_read(read: Read) -> Json:
    """Give what a file says."""
    return stated(
        {
            "ladders": [
                {"valid_from": each.valid_from.isoformat(), "tiers": show_tiers(each.tiers), "doubts": [*each.doubts()]}
                for each in read.ladders
            ],
            "columns": read.found.columns,
            "doubts": [*read.found.doubts],
            "sheet": read.table.sheet,
            "other_sheets": [*read.table.other_sheets],
        }
    )


def show_version(version: LadderVersion) -> Json:
    """Give one version of a ladder."""
    shown = {"version": version.version, "written_at": version.written_at, "written_by": version.written_by}
    return shown if version.said is None else {**shown, "tiers": show_tiers(version.said)}


def show_order(order: Order, currency: Currency) -> Json:
    """Give an order."""
    return {
        "quantity": order.quantity,
        "from_credits": order.tier.from_credits,
        "unit_price": order.tier.unit_price,
        "amount": cost_text(order.cost, currency),
    }


def show_price(found: OrderPrice, quantity: int) -> Json:
    """Give what an order costs."""
    currency, asked = found.ladder.currency, found.asked
    cheaper = [] if asked is None else [show_cheaper(each, asked, currency) for each in found.cheaper]
    return stated(
        {
            "on": found.on.isoformat(),
            "ladder": found.ladder.valid_from.isoformat(),
            "quantity": quantity,
            "order": asked and show_order(asked, currency),
            "cheapest": show_order(found.cheapest, currency),
            "cheaper": cheaper,
        }
    )


def show_cheaper(order: Order, asked: Order, currency: Currency) -> Json:
    """Give a larger order that costs less than the one asked for."""
    saves = half_up(asked.cost) - half_up(order.cost)
    return {
        **show_order(order, currency),
        "more": order.quantity - asked.quantity,
        "saves": currency.text(saves),
    }


def show_checked(found: CheckedPurchase, currency: Currency) -> Json:
    """Give a purchase beside the ladder of its day."""
    order = found.order
    return stated(
        {
            "entry": found.entry.number,
            "on": found.entry.effective_on.isoformat(),
            "into": found.body.into,
            "paid_by": found.body.paid_by,
            "order_number": found.body.order_number,
            "quantity": found.body.quantity,
            "undone": found.undone,
            "amount": currency.text(found.body.amount),
            "ladder": found.ladder and found.ladder.valid_from.isoformat(),
            "order": order and show_order(order, currency),
            "difference": order and currency.text(found.body.amount - half_up(order.cost)),
        }
    )


def cost_text(cost: Fraction, currency: Currency) -> str:
    """Give a cost as it is shown."""
    return currency.text(half_up(cost))
