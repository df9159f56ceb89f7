"""Pools filled with the invented network: one in which something of every kind stands and waits, and one with nothing.

Names are as long as they may be, amounts large, and a month each is closed and paid, closed and unpaid, compared and
undecided, and under way.
"""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

from pool_client import Book
from pool_client.models.buying import Needs
from pool_client.models.directory import Handle, Member, Role
from pool_client.models.entries import Acknowledgement, Charge, Command, Draw, Loan, Payment, Purchase, Use, Verdict
from pool_client.models.vendor import ColumnProfile
from pool_client.wire import read

from seed.load import Loader, make_pool
from seed.network import DATA, MONTHS, Network, read_network
from tests.served import Served, join, second_factor, set_up

PAID, UNPAID, COMPARED = MONTHS
UNDER_WAY = "2026-11"
EXPORT: Path = DATA.parent / "walk" / "alder-october.csv"
LARGE = "OLDQUARRY-12"
LONG_NAME = "Old Quarry Road Workshop for Diagnostics and Calibration of Commercial Vehicles, Upper Wexcombe"
LONG_NOTE = "customer waits at the counter; the van has to be in Stannock by six, and " * 5 + "Fahrzeugkennung" * 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """A pool whose keeper signs in by its name, and BIRCH's clerk by clerk; the
    token of a keeper's who has a second factor; and what stands in its addresses."""

    pool: str
    clerk: str
    warden: str
    ended: str
    open: str
    plan: str
    imported: str
    ladder: str
    catalogue: str
    drawn: int
    disputed: int


def fill(house: Served, pool: str) -> Filled:
    """Fill a pool of a new name."""
    network = read_network()
    network = replace(network, pool={**network.pool, "id": pool})
    house.keys[f"{pool} keeper"] = make_pool(house.client("operator"), network)
    loader = Loader(keeper=house.client(f"{pool} keeper"), network=network)
    loader.enter_members()
    ladders, catalogues = loader.enter_ladders(), loader.enter_catalogues()
    book = loader.book
    book.put_column_profile(read(ColumnProfile, network.profile))
    for month in MONTHS:
        loader.record_month(month)
        imported = loader.import_exports(month)
        if month != COMPARED:
            _settle(book, month, paid=month == PAID)
    ended, still_open = _order_together(house, book)
    entries = _record_large(book)
    _leave_waiting(house, book)
    join(house, pool, f"{pool} person", role=Role.KEEPER, pool=pool)
    join(house, warden := f"{pool} warden", warden, role=Role.KEEPER, pool=pool)
    second_factor(house, warden)
    join(house, f"{pool} clerk", f"{pool} clerk", role=Role.CLERK, member="BIRCH", pool=pool)
    return Filled(
        pool=pool,
        clerk=f"{pool} clerk",
        warden=house.keys[warden],
        ended=ended,
        open=still_open,
        plan=_plan(book, network),
        imported=imported[0].import_id,
        ladder=str(ladders[-1].valid_from),
        catalogue=str(catalogues[-1].valid_from),
        drawn=entries[1],
        disputed=entries[2],
    )


def leave_empty(house: Served, pool: str) -> None:
    """Make a pool in which nothing was ever done."""
    set_up(house, pool, prefix=f"{pool} ")
    join(house, pool, f"{pool} person", role=Role.KEEPER, pool=pool)


def _settle(book: Book, month: str, *, paid: bool) -> None:
    for each in book.reconciliation(month=month).differences:
        mendable = each.mend is not None and not each.mend.asks
        verdict = "accepted" if mendable else "dismissed"
        book.decide(month=month, difference=each.key, verdict=verdict, reason="looked into with both shops")
    book.confirm(month=month, all_suggested=True, word="both sides agree")
    book.sign_off(month=month, digest=book.reconciliation(month=month).digest)
    book.close(month=month, digest=book.settlement(month=month).digest)
    for due in book.settlement(month=month).payments if paid else ():
        book.record(Payment(from_member=due.payer, to_member=due.payee, amount=due.amount, pays=due.id))


def _order_together(house: Served, book: Book) -> tuple[str, str]:
    """Leave a joint order that was called off, and one that shops answer."""
    ended = book.open_round(deadline=house.clock.at + timedelta(days=1), note="too early").round_id
    book.call_off_round(round_id=ended, reason="the vendor changes its prices next week")
    still_open = book.open_round(deadline=house.clock.at + timedelta(days=3), note="before the holidays").round_id
    for member, quantity in (("ALDER", 120), ("CEDAR", 90), ("DOGWOOD", 0)):
        book.put_commitment(round_id=still_open, member=member, quantity=quantity)
    return ended, still_open


def _record_large(book: Book) -> list[int]:
    """Record a month of large figures and long notes; one draw is dated before what it draws from."""
    handle = Handle(handle="nv-90000000000001", since=date(2026, 11, 1))
    book.put_member(Member(code=LARGE, name=LONG_NAME, joined_on=date(2026, 11, 1), handles=(handle,)))
    use = Use(member=LARGE, quantity=16_500, item="CAL-M", job="W-2026-11-000417/B", price=Decimal("181500.00"))
    commands = [
        Command(body=Purchase(paid_by=LARGE, quantity=125_000, amount=Decimal("862500.00"))),
        Command(body=Draw(member=LARGE, quantity=98_765), effective_on=date(2026, 11, 5), note=LONG_NOTE),
        Command(body=Loan(lender=LARGE, borrower="BIRCH", quantity=1_234), note="for a customer in a hurry"),
        Command(body=Loan(lender=LARGE, borrower="CEDAR", quantity=1, unit_price=Decimal("7.2500"))),
        Command(body=use),
        Command(body=Charge(from_member="ELM", to_member="ALDER", amount=Decimal("14.50"), reason="courier")),
    ]
    made = [each.number for each in book.record_all(commands)]
    book.record(Acknowledgement(entry=made[2], member="BIRCH", verdict=Verdict.DISPUTED), note="we had 1,200 only")
    return made


def _leave_waiting(house: Served, book: Book) -> None:
    """Leave a question to a shop, requests, a need stated by hand, an invitation and a key."""
    found = book.reconciliation(month=COMPARED)
    for each in found.differences[:2]:
        book.hand(month=COMPARED, difference=each.key, member="BIRCH", word="what did you send?")
    book.ask(member="CEDAR", quantity=14, needed_by=house.clock.at + timedelta(hours=5), note="customer waiting")
    asked = book.ask(member="ELM", quantity=6, needed_by=house.clock.at + timedelta(hours=7))
    book.withdraw_request(request_id=asked.request_id)
    stated = book.put_need(40, member="CEDAR", month="2026-12", reason="a contract with a carrier")
    book.put_need(55, member="CEDAR", month="2026-12", reason="and its vans", tag=stated.tag)
    book.invite(role=Role.CLERK, member="FIR", note="Fir's counter")
    book.make_key(name="the workshop's own program", role=Role.READER)


def _plan(book: Book, network: Network) -> str:
    needs = [Needs(member=each.code, credits=(30, 45, 60, 20, 25, 40)) for each in network.shops]
    return book.plan_orders(needs, order_cost=Decimal("5.00"), holding_cost=Decimal("0.05"), expiry=12).plan_id


def export() -> bytes:
    """Give a file of the vendor's that isn't on file yet."""
    return EXPORT.read_bytes()
