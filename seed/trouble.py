"""The trouble planted in the history: how the book and the vendor's record each come to say something else.

Every trouble hangs on the tag of a line of the script. The facts stay true; what is changed here is what was written
down of them. seed/README.md says the same in words.
"""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from seed.history import Fact, sides, undone_by
from seed.network import Network


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """A planted trouble: the script's tag, and as what a comparison of book and record should show it.

    difference is the kind of difference, None where a match says it (or, for the overlap, the import)."""

    name: str
    tag: str | None
    month: str
    difference: str | None


TROUBLES = (
    Trouble(name="row-twice-in-overlapping-exports", tag=None, month="2026-08", difference=None),
    Trouble(name="purchase-booked-net-of-its-fee", tag="august-order", month="2026-08", difference="amount"),
    Trouble(name="date-one-day-off", tag="late-evening-loan", month="2026-09", difference=None),
    Trouble(name="loan-nobody-recorded", tag="loan-by-phone", month="2026-09", difference="missing_in_journal"),
    Trouble(name="mistaken-use-refunded", tag="refund", month="2026-09", difference="missing_in_journal"),
    Trouble(name="wrong-quantity", tag="gearboxes", month="2026-10", difference="quantity"),
    Trouble(name="loan-returned-in-two-parts", tag="bridge-back", month="2026-10", difference=None),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Booked:
    """A line of the book: the fact it tells of, the day it gives, and the command's own members."""

    fact: Fact
    day: date
    said: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A movement at the vendor between two accounts, or from or to nobody; action is the vendor's word for it where no
    other account is named."""

    fact: Fact
    day: date
    giver: str | None
    receiver: str | None
    quantity: int
    action: str = ""
    paid: str = ""


def booked(network: Network, fact: Fact) -> Booked | None:
    """Give what the shops wrote down of a fact, None for what they forgot."""
    said, day = dict(fact.said), fact.day
    match fact.tag:
        case "loan-by-phone" | "refund":
            return None
        case "august-order":
            said["amount"] = f"{network.order_price(said['quantity']):.2f}"
        case "late-evening-loan":
            day += timedelta(days=1)
        case "gearboxes":
            said["quantity"] = int(str(said["quantity"])[::-1])
    return Booked(fact=fact, day=day, said=said)


def shown(network: Network, fact: Fact, facts: tuple[Fact, ...]) -> list[Shown]:
    """Give what the vendor shows of a fact: nothing when no vendor account changes."""
    if fact.kind == "reversal":
        return [_undone(each, fact) for each in shown(network, undone_by(fact, facts), facts)]
    accounts = network.handles | {"stock": network.handles[network.custodian]}
    giver, receiver = (accounts.get(side, side) if side else None for side in sides(fact))
    whole = _plainly(fact, giver, receiver)
    if fact.tag == "bridge-back":
        rest = whole.quantity - _FIRST_PART
        return [replace(whole, day=whole.day - timedelta(days=1), quantity=_FIRST_PART), replace(whole, quantity=rest)]
    return [] if giver == receiver else [whole]


_FIRST_PART = 18
_ACTIONS = {"purchase": "Top-up", "use": "Unlock", "write_off": "Expired"}


def _plainly(fact: Fact, giver: str | None, receiver: str | None) -> Shown:
    return Shown(
        fact=fact,
        day=fact.day,
        giver=giver,
        receiver=receiver,
        quantity=fact.said.get("quantity", 0),
        action=_ACTIONS.get(fact.kind, ""),
        paid=fact.said["amount"] if fact.kind == "purchase" else "",
    )


def _undone(each: Shown, reversal: Fact) -> Shown:
    return replace(
        each,
        fact=reversal,
        day=reversal.day,
        giver=each.receiver,
        receiver=each.giver,
        action="Refund" if each.action == "Unlock" else each.action,
        paid="",
    )
