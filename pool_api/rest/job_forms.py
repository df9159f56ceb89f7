"""How jobs, earnings, uses beside the catalogue, quotes and the cost of replacing credits are shown on the wire."""

from collections.abc import Sequence
from typing import Annotated, Any

from pydantic import Field

from pool_api.domain.catalogue import MOST_WANTED, CatalogueFinding, Item
from pool_api.domain.jobs import Earned, JobUse, Prospect, earned_by, sum_of
from pool_api.domain.values import Currency
from pool_api.reports.cautions import ROAD_USE
from pool_api.reports.cells import csv_text
from pool_api.rest.catalogue_forms import TRADE_ONLY, ItemCode, ItemForm, show_item
from pool_api.rest.month_forms import UnitCostShown, show_unit_cost
from pool_api.rest.wire import (
    CreditChange,
    CreditCount,
    Credits,
    Day,
    EntryNumber,
    Flag,
    MemberCode,
    Money,
    MoneyText,
    MonthText,
    ShortText,
    UnitPriceText,
    WireModel,
    stated,
)
from pool_api.services.jobs import By, CheckedUse, Earnings, Job, Quote
from pool_api.services.replacement import Basis, Replacement

Json = dict[str, Any]


class JobUseShown(WireModel):
    """One use on a job; left is what is not reversed, cost what that cost, and replaced what it would have cost to
    replace on that day, absent without a ladder then. A use of which nothing is left has no price."""

    entry: EntryNumber
    on: Day
    member: MemberCode
    item: ShortText
    quantity: Credits
    left: CreditCount
    cost: MoneyText
    replaced: MoneyText | None = None
    price: MoneyText | None = None
    margin: MoneyText | None = None


class ReplacementShown(WireModel):
    """What the next order would be: its size, from the newest plan, the last purchase into stock, or the smallest order
    there is; and its unit price by the ladder of the day, which is what a credit costs to replace."""

    basis: Basis
    ladder: Day
    quantity: Credits
    unit_price: UnitPriceText


class JobShown(WireModel):
    """What a job cost and what it earned; the margin counts uses that have a price. replaced_now is what all its
    credits would cost to replace today, by the next order; absent, as that is, without a ladder."""

    job: ShortText
    uses: list[JobUseShown]
    credits: CreditCount
    cost: MoneyText
    price: MoneyText
    margin: MoneyText
    replaced_now: MoneyText | None = None
    replacement: ReplacementShown | None = None


class EarnedShown(WireModel):
    """What some uses cost and earned. cost is of all uses; margin is the price less the cost of the uses that have one:
    the unpriced ones are told apart."""

    uses: int = Field(ge=0)
    credits: CreditCount
    cost: MoneyText
    price: MoneyText
    margin: MoneyText
    unpriced_uses: int = Field(ge=0)
    unpriced_credits: CreditCount
    unpriced_cost: MoneyText


class EarnedRow(EarnedShown):
    """The uses that have a name in common; absent for all together, and for items without a vehicle class."""

    name: str | None = None


class EarningsShown(WireModel):
    """What the uses of some months cost and earned, in order of the names of what they are told by."""

    by: By
    from_month: MonthText
    to_month: MonthText
    rows: list[EarnedRow]
    total: EarnedShown


class CheckedUseShown(WireModel):
    """A use beside the catalogue of its day. as_listed: so many credits as its item costs; several: a whole number of
    times as many; otherwise: another number, difference by which it is more; unlisted: the catalogue has no such item;
    no_catalogue: none counted. unmarked: the item isn't lawful on public roads everywhere, and the use isn't marked as
    off road only."""

    entry: EntryNumber
    on: Day
    member: MemberCode
    item: ShortText
    job: ShortText
    quantity: Credits
    undone: CreditCount
    finding: CatalogueFinding
    catalogue: Day | None = None
    listed: CreditCount | None = None
    difference: CreditChange | None = None
    unmarked: Flag
    cautions: list[str]


class QuoteForm(WireModel):
    """What a job needs: items of the catalogue, each once, and credits beside them; price is what the customer would
    be charged."""

    member: MemberCode
    items: Annotated[list[ItemCode], Field(max_length=MOST_WANTED)] = []
    credits: CreditCount = 0
    price: Money | None = None
    on: Day | None = None


class ChosenShown(ItemForm):
    """An item to be bought, and which of the wanted ones are had with it."""

    serves: list[ItemCode]


class CoverShown(WireModel):
    """The items that cost the fewest credits and with which all that is wanted is had. singly is what the wanted items
    cost one by one. Where the search was stopped, proven is false, and no choice costs less than lower_bound."""

    catalogue: Day
    chosen: list[ChosenShown]
    credits: CreditCount
    singly: CreditCount
    proven: bool
    lower_bound: CreditCount


class ProspectShown(WireModel):
    """What the credits cost at a unit price, and what is left of the price for the job."""

    unit_price: UnitCostShown
    cost: MoneyText
    margin: MoneyText | None = None


class QuoteShown(WireModel):
    """What a job would take and cost, on a day. blended is at the member's unit cost of the present month so far,
    absent while it has none; replaced at the unit price of the next order, absent without a ladder. missing is what the
    member would have to draw or borrow first. A quote is kept nowhere."""

    member: MemberCode
    on: Day
    credits: CreditCount
    cover: CoverShown | None = None
    held: CreditCount
    missing: CreditCount
    price: MoneyText | None = None
    blended: ProspectShown | None = None
    replaced: ProspectShown | None = None
    replacement: ReplacementShown | None = None
    cautions: list[str]


def show_job(reference: str, found: Job, currency: Currency) -> Json:
    """Give what a job cost and earned."""
    sums = sum_of(earned_by(found.uses, lambda use: use.job).values())
    return stated(
        {
            "job": reference,
            "uses": [_use(use, found.replaced.get(use.entry), currency) for use in found.uses],
            "credits": sums.credits,
            "cost": currency.text(sums.cost),
            "price": currency.text(sums.price),
            "margin": currency.text(sums.margin),
            "replaced_now": None if found.replaced_now is None else currency.text(found.replaced_now),
            "replacement": found.replacement and show_replacement(found.replacement),
        }
    )


def _use(use: JobUse, replaced: int | None, currency: Currency) -> Json:
    return stated(
        {
            "entry": use.entry,
            "on": use.effective_on.isoformat(),
            "member": use.member,
            "item": use.item,
            "quantity": use.quantity,
            "left": use.left,
            "cost": currency.text(use.cost),
            "replaced": None if replaced is None else currency.text(replaced),
            "price": None if use.price is None else currency.text(use.price),
            "margin": None if use.price is None else currency.text(use.price - use.cost),
        }
    )


def show_earnings(found: Earnings) -> Json:
    """Give what jobs cost and earned."""
    return {
        "by": found.by,
        "from_month": str(found.period.first),
        "to_month": str(found.period.last),
        "rows": [_row(name, each, found.currency) for name, each in found.rows.items()],
        "total": _earned(found.total, found.currency),
    }


def _row(name: str, sums: Earned, currency: Currency) -> Json:
    return {**({"name": name} if name else {}), **_earned(sums, currency)}


def _earned(sums: Earned, currency: Currency) -> Json:
    return {
        "uses": sums.uses,
        "credits": sums.credits,
        "cost": currency.text(sums.cost),
        "price": currency.text(sums.price),
        "margin": currency.text(sums.margin),
        "unpriced_uses": sums.unpriced_uses,
        "unpriced_credits": sums.unpriced_credits,
        "unpriced_cost": currency.text(sums.unpriced_cost),
    }


EARNED_HEAD = ("by", "name", *EarnedShown.model_fields, "currency")


def earnings_csv(found: Earnings) -> str:
    """Give what jobs cost and earned as CSV (RFC 4180) in the columns of EARNED_HEAD."""
    beside = {"by": found.by, "currency": found.currency.code}
    shown = ({**beside, **_row(name, sums, found.currency)} for name, sums in found.rows.items())
    return csv_text([EARNED_HEAD, *([each.get(name, "") for name in EARNED_HEAD] for each in shown)], free=1)


def show_checked_use(found: CheckedUse) -> Json:
    """Give a use beside the catalogue of its day."""
    body, item = found.body, found.item
    return stated(
        {
            "entry": found.number,
            "on": found.effective_on.isoformat(),
            "member": body.member,
            "item": body.item,
            "job": body.job,
            "quantity": body.quantity,
            "undone": found.undone,
            "finding": found.finding,
            "catalogue": found.catalogue and found.catalogue.isoformat(),
            "listed": item and item.credits,
            "difference": body.quantity - item.credits
            if item and found.finding is CatalogueFinding.OTHERWISE
            else None,
            "unmarked": found.unmarked,
            "cautions": _cautions([item] if item else []),
        }
    )


def show_replacement(found: Replacement) -> Json:
    """Give what the next order would be."""
    return {
        "basis": found.basis,
        "ladder": found.ladder.isoformat(),
        "quantity": found.order.quantity,
        "unit_price": found.order.tier.unit_price,
    }


def show_quote(asked: QuoteForm, found: Quote) -> Json:
    """Give a quote."""
    currency = found.currency
    return stated(
        {
            "member": asked.member,
            "on": found.on.isoformat(),
            "credits": found.credits,
            "cover": _cover(found),
            "held": found.held,
            "missing": max(found.credits - found.held, 0),
            "price": None if asked.price is None else currency.text(currency.minor(asked.price)),
            "blended": found.blended and _prospect(found.blended, currency),
            "replaced": found.replaced and _prospect(found.replaced, currency),
            "replacement": found.replacement and show_replacement(found.replacement),
            "cautions": _cautions([*found.chosen, *found.wanted]),
        }
    )


def _cover(found: Quote) -> Json | None:
    if found.catalogue is None or found.cover is None:
        return None
    catalogue, wanted = found.catalogue, [each.code for each in found.wanted]
    chosen = [
        {**show_item(each), "serves": [code for code in wanted if code in catalogue.had_with(each.code)]}
        for each in found.chosen
    ]
    return {
        "catalogue": catalogue.valid_from.isoformat(),
        "chosen": chosen,
        "credits": found.cover.cost,
        "singly": sum(each.credits for each in found.wanted),
        "proven": found.cover.proven,
        "lower_bound": found.cover.lower_bound,
    }


def _prospect(found: Prospect, currency: Currency) -> Json:
    shown = {"unit_price": show_unit_cost(found.unit_price, currency), "cost": currency.text(found.cost)}
    return shown if found.margin is None else {**shown, "margin": currency.text(found.margin)}


def _cautions(items: Sequence[Item]) -> list[str]:
    """Give what has to be said of some items."""
    said = [TRADE_ONLY] if any(each.trade_only for each in items) else []
    return [*said, *([ROAD_USE] if any(each.road_restricted for each in items) else [])]
