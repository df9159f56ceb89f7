"""The demonstration: a group's three months, recorded, matched with the vendor's files, mended, settled and paid.

Everything goes through the client, into a service of its own on an empty database; what is printed is what the service
answered. At the end the service stays up until it is interrupted, unless --stop-after says otherwise.
"""

import argparse
import shutil
import signal
import sys
import tempfile
import threading
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from pool_client import Book, Client, show
from pool_client.errors import PoolError
from pool_client.models.entries import Payment
from pool_client.models.vendor import ColumnProfile, Difference
from pool_client.wire import read
from rich.console import Console
from rich.rule import Rule
from rich.text import Text

from seed.load import Loader, make_pool
from seed.network import DATA, MONTHS, Network, read_network
from seed.service import Running, running_service

NARROW = 160


class Teller:
    """Tells what happens, on a console."""

    def __init__(self, console: Console) -> None:
        self._console = console

    def chapter(self, title: str) -> None:
        """Begin a part of the story."""
        self._console.print(Rule(Text(title), align="left"))

    def say(self, words: str) -> None:
        """Say a sentence."""
        self._console.print(Text(words))

    def table(self, tables: list[show.Table]) -> None:
        """Show tables."""
        show.put(self._console, tables)


def run(teller: Teller, service: Running, network: Network) -> str:
    """Go through the three months and give the keeper's key."""
    with Client(service.address, service.first_key) as operator:
        key = make_pool(operator, network)
    with Client(service.address, key) as keeper:
        loader = Loader(keeper=keeper, network=network)
        loader.enter_members()
        loader.book.put_column_profile(read(ColumnProfile, network.profile))
        teller.chapter(f"{network.pool['name']}: {len(network.shops)} shops buy from {network.pool['vendor']}")
        teller.table(show.positions(loader.book.positions(as_of=network.began_on)))
        for month in MONTHS:
            _month(teller, loader, month)
        teller.chapter("The book as it stands")
        teller.table(show.positions(loader.book.positions()))
        teller.table(show.verification(loader.book.verification()))
    return key


def _month(teller: Teller, loader: Loader, month: str) -> None:
    book = loader.book
    teller.chapter(f"{month}: recorded")
    entries = loader.record_month(month)
    new, known = _import_exports(loader, month)
    teller.say(f"{len(entries)} entries recorded; the vendor's files bring {new} rows, and {known} that were there.")
    teller.chapter(f"{month}: matched with the vendor's record")
    found = book.reconciliation(month=month)
    teller.table(show.reconciliation(found))
    for difference in found.differences:
        _mend(teller, book, month, difference)
    left = book.reconciliation(month=month)
    parted = [proof.member for proof in left.proof if not proof.balanced]
    teller.say(
        f"{left.undecided} differences are left; " + (f"accounts part: {parted}." if parted else "all balances agree.")
    )
    teller.chapter(f"{month}: costed and settled")
    teller.table(show.sheet(book.sheet(month=month)))
    preview = book.settlement(month=month)
    close = book.close(month=month, digest=preview.digest)
    final = book.settlement(month=month)
    teller.table(show.settlement(final))
    teller.say(f"{month} is closed by entry {close.number}.")
    if month != MONTHS[-1]:
        _pay(teller, book, month)


def _import_exports(loader: Loader, month: str) -> tuple[int, int]:
    new = known = 0
    for shop in loader.network.shops:
        for path in sorted((DATA / "vendor").glob(f"{shop.code}_*_{month}-*.csv")):
            _, first, last = path.stem.split("_")
            made = loader.book.import_record(
                path.read_bytes(),
                member=shop.code,
                profile=str(loader.network.profile["name"]),
                from_day=date.fromisoformat(first),
                to_day=date.fromisoformat(last),
            )
            new, known = new + made.rows_new, known + made.rows_known
    return new, known


def _mend(teller: Teller, book: Book, month: str, difference: Difference) -> None:
    teller.say(difference.sentence)
    verdict = "accepted" if difference.mend is not None else "dismissed"
    reason = "as the vendor shows" if difference.mend is not None else "nothing to record"
    made = book.decide(month=month, difference=difference.key, verdict=verdict, reason=reason)
    numbers = " and ".join(str(number) for number in made.entries)
    teller.say(f"  mended by entry {numbers}" if numbers else "  dismissed")


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
    teller.say(f"All payments of {month} are recorded on {due}.")


def _invite(teller: Teller, service: Running, key: str, network: Network) -> None:
    pool = network.pool["id"]
    command = Path(sys.executable).with_name("pool")
    teller.chapter("The service is running")
    teller.say(f"address                {service.address} (the API's description: {service.address}/docs)")
    teller.say(f"first key, operator's  {service.first_key}")
    teller.say(f"the keeper's key       {key}")
    teller.say("Try next, in another terminal:")
    teller.say(f"  export CREDIT_POOL_ADDRESS={service.address} CREDIT_POOL_POOL={pool} CREDIT_POOL_KEY={key}")
    teller.say(f"  {command} positions")
    teller.say(f"  {command} statement {MONTHS[-1]} DOGWOOD")
    teller.say(f"  {command} draw BIRCH 12 --note 'customer waiting'")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the demonstration. Gives 0 when all went well, 1 when the service refused something."""
    parser = argparse.ArgumentParser(prog="seed.demo", description="A group's month, from the book to the settlement.")
    parser.add_argument(
        "--stop-after", action="store_true", help="stop the service at the end instead of leaving it up"
    )
    stop_after: bool = parser.parse_args(arguments).stop_after
    console = Console(highlight=False, width=None if sys.stdout.isatty() else NARROW)
    teller, network = Teller(console), read_network()
    directory = Path(tempfile.mkdtemp(prefix="credit-pool-demo-"))
    try:
        with running_service(directory) as service:
            try:
                key = run(teller, service, network)
            except PoolError as error:
                teller.say(f"The service refused: {error.sentence}")
                return 1
            _invite(teller, service, key, network)
            if not stop_after:
                _wait_for_interrupt(teller)
    finally:
        shutil.rmtree(directory)
    return 0


def _wait_for_interrupt(teller: Teller) -> None:
    teller.say("It stays up until you press Ctrl-C.")
    stopped = threading.Event()
    for each in (signal.SIGINT, signal.SIGTERM):
        signal.signal(each, lambda *_: stopped.set())
    stopped.wait()


if __name__ == "__main__":
    sys.exit(main())
