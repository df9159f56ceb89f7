"""The demonstration: a group's three months, recorded, matched with the vendor's files, mended, settled and paid.

Everything goes through the client, into a service of its own on an empty database; what is printed is what the service
answered. At the end the service stays up until it is interrupted, unless --stop-after says otherwise.
"""

import argparse
import signal
import sys
import tempfile
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

from pool_client import (
    Book,
    Client,
    show,
    show_buying,
    show_catalogue,
    show_mending,
    show_needs,
    show_record,
    show_rounds,
)
from pool_client.errors import PoolError
from pool_client.models.buying import Needs
from pool_client.models.catalogue import By
from pool_client.models.directory import Role
from pool_client.models.entries import Payment
from pool_client.models.vendor import ColumnProfile, Difference, Reconciliation
from pool_client.preview import previewed
from pool_client.table import Table, put
from pool_client.wire import read
from rich.console import Console
from rich.rule import Rule
from rich.text import Text

from seed.load import Loader, make_pool
from seed.network import MONTHS, Network, read_network
from seed.service import Running, running_service

PIPED_WIDTH = 160

_REASONS = {
    "amount": "the vendor's receipt has the payment fee in it",
    "missing_in_journal": "both sides say that it happened",
    "quantity": "the lender counted again: it is as the vendor shows",
}
_MEND = "it is as the vendor shows"
_CONFIRM = "both sides agree"
_DISMISS = "looked into, nothing to record"


WANTED, ASKED = ("CAL-M", "GBX", "ACC-2"), Decimal("390.00")
"""A job that somebody asks for: what it needs, and the price that is thought of."""

ORDER_COST, HOLDING_COST = Decimal("5.00"), Decimal("0.05")
"""What placing an order costs, and keeping a credit for a month."""


class Teller:
    """Tells what happens, on a console."""

    def __init__(self, console: Console) -> None:
        self._console = console

    def chapter(self, title: str) -> None:
        """Begin a part of the story."""
        self._console.print(Rule(Text(title), align="left"))

    def say(self, words: str) -> None:
        """Say a sentence, in one line however wide."""
        self._console.print(Text(words), soft_wrap=True)

    def table(self, tables: Sequence[Table]) -> None:
        """Show tables."""
        put(self._console, tables)


def run(teller: Teller, service: Running, network: Network) -> str:
    """Go through the three months and give the keeper's key."""
    with Client(service.address, service.first_key) as operator:
        key = make_pool(operator, network)
    with Client(service.address, key) as keeper:
        loader = Loader(keeper=keeper, network=network)
        book = loader.book
        teller.chapter(f"{network.pool['name']}: {len(network.shops)} shops buy credits of {network.pool['vendor']}")
        loader.enter_members()
        teller.table(show.members(book.members()))
        teller.table(show.positions(book.positions(as_of=network.began_on)))
        teller.chapter("What credits cost by the size of one order")
        teller.table(show_buying.ladders(loader.enter_ladders()))
        teller.chapter("What items cost in credits, and what changes in October")
        first, last = loader.enter_catalogues()
        teller.table(show_catalogue.catalogue(first))
        teller.table(show_catalogue.changes(book.catalogue_changes(valid_from=last.valid_from)))
        teller.chapter("What the vendor's exports look like")
        proposal = loader.propose_profile(MONTHS[-1])
        teller.table(previewed(proposal))
        book.put_column_profile(proposal.profile or read(ColumnProfile, network.profile))
        for month in MONTHS:
            _month(teller, loader, month)
        teller.chapter(f"What was paid in {MONTHS[-1]} beside the price ladder: the vendor's payment fee")
        teller.table(show_buying.purchase_checks(book.purchase_checks(month=MONTHS[-1])))
        _jobs(teller, book)
        _plan(teller, book)
        _together(teller, book, ZoneInfo(network.pool["time_zone"]))
        teller.chapter("The book as it stands")
        teller.table(show.positions(book.positions()))
        teller.table(show.settlement_payments(book.settlement_payments(unpaid=True)))
        teller.table(show.verification(book.verification()))
    return key


def _month(teller: Teller, loader: Loader, month: str) -> None:
    teller.chapter(f"{month}: recorded")
    teller.say(f"The shops recorded {len(loader.record_month(month))} entries, and exported these files:")
    teller.table(show_record.imports(loader.import_exports(month)))
    _reconcile(teller, loader.book, month)
    _close(teller, loader.book, month)
    if month != MONTHS[-1]:
        _pay(teller, loader.book, month)


def _reconcile(teller: Teller, book: Book, month: str) -> None:
    teller.chapter(f"{month}: matched with the vendor's record, and mended")
    found = book.reconciliation(month=month)
    teller.table(show_mending.reconciliation(found))
    _tell_days_apart(teller, found)
    for difference in found.differences:
        _mend(teller, book, month, difference)
    _confirm(teller, book, month)
    left = book.reconciliation(month=month)
    parted = ", ".join(proof.member or proof.account for proof in left.proof if not proof.balanced)
    balances = f"accounts part: {parted}" if parted else "journal and record agree on every account"
    teller.say(f"{left.undecided} differences are left; {balances}.")
    signed = book.sign_off(month=month, digest=left.digest)
    teller.say(f"Signed off by entry {signed.number}.")


def _confirm(teller: Teller, book: Book, month: str) -> None:
    for each in book.confirm(month=month, all_suggested=True, word=_CONFIRM):
        entries = " and ".join(map(str, each.entries or ()))
        teller.say(f"Confirmed: entry {entries} and {len(each.rows or ())} rows are one movement, {each.word}.")


def _tell_days_apart(teller: Teller, found: Reconciliation) -> None:
    for match in found.matches:
        if match.days_apart and match.status == "matched":
            entries = " and ".join(map(str, match.entries))
            days = next((part.says for part in match.parts if part.name == "day"), "")
            teller.say(f"Matched although the dates differ: entry {entries}, {match.quantity} credits, {days}.")


def _mend(teller: Teller, book: Book, month: str, difference: Difference) -> None:
    mendable = difference.mend is not None and not difference.mend.asks
    made = book.decide(
        month=month,
        difference=difference.key,
        verdict="accepted" if mendable else "dismissed",
        reason=_REASONS.get(difference.kind, _MEND) if mendable else _DISMISS,
    )
    numbers = " and ".join(map(str, made.entries))
    outcome = f", mended by entry {numbers}" if numbers else ""
    teller.say(f"{difference.kind.replace('_', ' ')} {difference.key[:8]}: {made.verdict}, {made.reason}{outcome}.")


def _close(teller: Teller, book: Book, month: str) -> None:
    teller.chapter(f"{month}: costed and settled")
    teller.table(show.sheet(book.sheet(month=month)))
    preview = book.settlement(month=month)
    close = book.close(month=month, digest=preview.digest)
    teller.table(show.settlement(book.settlement(month=month)))
    teller.say(f"{month} is closed by entry {close.number}.")


def _pay(teller: Teller, book: Book, month: str) -> None:
    due = date.fromisoformat(f"{MONTHS[MONTHS.index(month) + 1]}-05")
    for payment in book.settlement(month=month).payments:
        book.record(
            Payment(
                from_member=payment.payer,
                to_member=payment.payee,
                amount=payment.amount,
                method="bank transfer",
                pays=payment.id,
            ),
            effective_on=due,
        )
    teller.say(f"All payments of {month} are recorded, effective {due}.")


def _jobs(teller: Teller, book: Book) -> None:
    month = MONTHS[-1]
    teller.chapter(f"{month}: what jobs earned, and where a use isn't what the catalogue of its day says")
    teller.table(show_catalogue.earnings(book.earnings(from_month=month, by=By.ITEM)))
    teller.table(show_catalogue.use_checks(book.use_checks(month=month, doubtful=True)))
    teller.chapter("A job to come: what it takes, at the blended unit cost and at what replacing the credits costs")
    teller.table(show_catalogue.quote(book.quote(member="FIR", items=WANTED, price=ASKED)))


def _plan(teller: Teller, book: Book) -> None:
    """Plan the next orders as if three months took what the last one did."""
    used = book.earnings(from_month=MONTHS[-1], by=By.MEMBER).rows
    needs = [Needs(member=each.name or "", credits=(each.credits,) * 3) for each in used]
    teller.chapter(f"The next orders, if every month takes what {MONTHS[-1]} took")
    plan = book.plan_orders(needs, order_cost=ORDER_COST, holding_cost=HOLDING_COST, expiry=12)
    teller.table(show_buying.order_plan(plan))
    teller.table(show_buying.plan_savings(book.plan_savings(plan_id=plan.plan_id)))


COMMITTED = {"ALDER": 150, "CEDAR": 120, "FIR": 0}
"""What some shops want of a joint order; the others haven't answered."""


def _together(teller: Teller, book: Book, zone: ZoneInfo) -> None:
    """Show what comes: needs, a joint order that is open, and a request for credits. None of it is an entry."""
    teller.chapter("What coming months need, and how long credits last")
    teller.table(show_needs.needs(book.needs(months=3)))
    teller.chapter("A joint order that shops commit to, and credits that one of them needs")
    now = datetime.now(UTC).replace(microsecond=0)
    opened = book.open_round(deadline=now + timedelta(days=3), note="the next joint order")
    for member, quantity in COMMITTED.items():
        book.put_commitment(round_id=opened.round_id, member=member, quantity=quantity)
    teller.table(show_rounds.round_(book.round_(round_id=opened.round_id), zone))
    book.ask(member="ELM", quantity=6, needed_by=now + timedelta(days=1), note="customer waiting")
    teller.table(show_rounds.requests(book.credit_requests(), zone))


def _invite(teller: Teller, service: Running, key: str, network: Network) -> None:
    """Say where the service is, how the keeper gets in, and three commands: see, record, have it explained."""
    command = Path(sys.executable).with_name("pool")
    if command.is_relative_to(Path.cwd()):
        command = command.relative_to(Path.cwd())
    with Client(service.address, service.first_key) as operator:
        made = operator.book(network.pool["id"]).invite(role=Role.KEEPER, note="the demonstration")
    teller.chapter("The service is running")
    teller.say("Open this in a browser: choose a name and a password, and you keep the book of the invented network.")
    teller.say(f"the pages              {service.address}/invitation#{made.token}")
    teller.say("The link can be used once. The key of the keeper, below, opens the pages and everything else as well.")
    teller.say(f"address                {service.address} (the API's description: {service.address}/docs)")
    teller.say(f"first key, operator's  {service.first_key}")
    teller.say(f"the keeper's key       {key}")
    teller.say("Try next, in another terminal:")
    teller.say(f"  export CREDIT_POOL_ADDRESS={service.address} CREDIT_POOL_POOL={network.pool['id']}")
    teller.say(f"  export CREDIT_POOL_KEY={key}")
    teller.say(f"  {command} positions")
    teller.say(f"  {command} lend CEDAR ELM 5 --note 'customer waiting'")
    teller.say(f"  {command} statement {MONTHS[-1]} FIR")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the demonstration. Gives 0 when all went well, 1 when the service refused something or ended by itself."""
    parser = argparse.ArgumentParser(prog="seed.demo", description="A group's month, from the book to the settlement.")
    parser.add_argument(
        "--stop-after", action="store_true", help="stop the service at the end instead of leaving it up"
    )
    stop_after: bool = parser.parse_args(arguments).stop_after
    teller = Teller(Console(highlight=False, width=None if sys.stdout.isatty() else PIPED_WIDTH))
    # Asked to end in whatever way, it stops the service first.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        with tempfile.TemporaryDirectory(prefix="credit-pool-demo-") as directory:
            return _demonstrate(teller, Path(directory), stop_after=stop_after)
    except KeyboardInterrupt:
        return 0


def _demonstrate(teller: Teller, directory: Path, *, stop_after: bool) -> int:
    network = read_network()
    with running_service(directory) as service:
        try:
            key = run(teller, service, network)
        except PoolError as error:
            teller.say(f"The service refused: {error.sentence}")
            return 1
        _invite(teller, service, key, network)
        if stop_after:
            return 0
        teller.say("It stays up until you press Ctrl-C; its database goes with it.")
        service.process.wait()
        teller.say("The service has ended.")
        return 1


if __name__ == "__main__":
    sys.exit(main())
