"""Tells a person at a terminal what happened, in tables. Takes what the client gives; asks and computes nothing."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal

from pool_client.calls.reading import Verification
from pool_client.models.entries import Entry
from pool_client.models.months import Costed, Positions, Settlement, SettlementPayment, Sheet, UnitCost
from pool_client.models.vendor import Decision, Difference, ImportMade, Match, Proof, Proposal
from rich.console import Console
from rich.markup import escape
from rich.table import Table

from seed.network import Network

_PLAIN_WIDTH = 108
"""How wide lines are where the output isn't a terminal's."""


def make_console() -> Console:
    """Give the console that everything is told on."""
    there = Console(highlight=False)
    return there if there.is_terminal else Console(width=_PLAIN_WIDTH, highlight=False)


def _table(title: str, texts: Sequence[str], figures: Sequence[str], *, behind: Sequence[str] = ()) -> Table:
    """Give a table of columns of text, of figures, and of text again."""
    table = Table(title=title, title_justify="left", title_style="bold")
    for name in texts:
        table.add_column(name)
    for name in figures:
        table.add_column(name, justify="right")
    for name in behind:
        table.add_column(name)
    return table


def network(console: Console, told: Network, proposal: Proposal) -> None:
    """Tell who is in the pool, and what was guessed of the vendor's files."""
    pool = told.pool
    console.rule(f"[bold]{escape(pool['name'])}")
    console.print(
        f"{len(told.shops)} shops buy credits of {escape(pool['vendor'])} together, in {pool['currency']}. "
        f"The stock sits in the account of {told.custodian}."
    )
    table = _table("Members and what the old books said", ("member", "name", "vendor account"), ("held", "cost", "due"))
    for shop in told.shops:
        figures = (str(shop.held), _money(Decimal(shop.cost)), _money(Decimal(shop.due)))
        table.add_row(shop.code, escape(shop.name), shop.handle, *figures)
    stock = told.opening
    table.add_row("stock", "", told.handles[told.custodian], str(stock["stock_quantity"]), stock["stock_cost"], "")
    console.print(table)
    columns = ", ".join(f"{role} = {column}" for role, column in proposal.columns.items())
    console.print(f"Columns guessed from an export: {escape(columns)}.")
    for doubt in proposal.doubts:
        console.print(f"[yellow]Doubt:[/] {escape(doubt)}")


def month(console: Console, name: str, entries: Iterable[Entry]) -> None:
    """Tell what was recorded in a month."""
    counts = Counter(entry.kind for entry in entries)
    console.print()
    console.rule(f"[bold]{name}")
    kinds = ", ".join(f"{count} {kind.replace('_', '-')}" for kind, count in counts.most_common())
    console.print(f"The shops recorded {counts.total()} entries: {kinds}.")


def imports(console: Console, made: Mapping[str, ImportMade]) -> None:
    """Tell what came of the vendor's files."""
    table = _table("Exports imported", ("member", "account", "days"), ("rows new", "on file already", "set aside"))
    for code, each in made.items():
        figures = (str(each.rows_new), str(each.rows_known), str(len(each.set_aside)))
        table.add_row(code, escape(each.account), f"{each.first_day} to {each.last_day}", *figures)
    console.print(table)


def matches(console: Console, found: Sequence[Match]) -> None:
    """Tell how many movements matched, and which of them not plainly."""
    console.print(f"{len(found)} movements stand in the journal and in the vendor's record.")
    for each in found:
        if each.days_apart or each.status != "matched":
            entries = ", ".join(map(str, each.entries))
            why = "; ".join(part.says for part in each.parts if part.name in {"day", "sum"})
            console.print(f"  {each.status}: {each.quantity} credits of entry {entries}; {escape(why)}.")


def decisions(console: Console, handles: Mapping[str, str], decided: Sequence[tuple[Difference, Decision]]) -> None:
    """Tell what differed and what was done about it; handles are the members' accounts at the vendor."""
    table = _table("Differences", ("kind", "what differs", "decision"), ())
    for difference, decision in decided:
        sentence = difference.sentence
        for code, handle in handles.items():
            sentence = sentence.replace(handle, code)
        done = f"{decision.verdict}: {decision.reason}"
        if decision.entries:
            done += f"; recorded as {' and '.join(map(str, decision.entries))}"
        table.add_row(difference.kind.replace("_", " "), escape(sentence), escape(done))
    console.print(table)


def proof(console: Console, proofs: Sequence[Proof]) -> None:
    """Tell that journal and record come to the same balance."""
    figures = ("opening", "bought", "in", "out", "used", "refunded", "closing", "record")
    table = _table("Proof of the balances", ("account of",), figures, behind=("",))
    for each in proofs:
        sums = each.journal
        told = (sums.opening, sums.bought, sums.came_in, sums.went_out, sums.used, sums.refunded, sums.closing)
        record = each.record.closing
        table.add_row(each.member or each.account, *map(str, (*told, record)), "agrees" if each.balanced else "parts")
    console.print(table)


def sheet(console: Console, told: Sheet) -> None:
    """Tell a month's sheet."""
    stock = told.stock
    price = _unit(told.pool_price)
    console.print(
        f"Pool price {price}; the stock opened with {_costed(stock.opening)}, "
        f"took in {_costed(stock.bought)}, closed with {_costed(stock.closing)}."
    )
    figures = ("available", "blended", "lent", "used", "closing", "gain", "due")
    table = _table(f"Month sheet {told.month}, {told.state}", ("member",), figures)
    for each in told.members:
        table.add_row(
            each.member,
            _costed(each.available),
            _unit(each.blended_unit_cost),
            _costed(each.loans_from_it),
            _costed(each.uses),
            _costed(each.closing),
            _money(each.lending_gain),
            _money(each.due.total),
        )
    console.print(table)
    for warning in told.warnings:
        console.print(f"[yellow]Warning:[/] {warning.rule} on {warning.on}: {warning.holder} by {warning.size}")


def settlement(console: Console, told: Settlement) -> None:
    """Tell a settlement: the nets, what stays with the stock, the payments, and what is proven of their number."""
    carried = {each.member: each.amount for each in (*told.carried, *told.small)}
    table = _table(f"Settlement {told.month}, {told.state}", ("member",), ("left in the stock", "net"))
    for each in told.nets:
        left = carried.get(each.member)
        table.add_row(each.member, "" if left is None else _money(left), _money(each.amount))
    console.print(table)
    for payment in told.payments:
        console.print(f"  {payment.id}: {payment.payer} pays {payment.payee} {_money(payment.amount)}")
    proven = "no plan has fewer" if told.proven else f"no plan has fewer than {told.lower_bound}"
    console.print(f"{len(told.payments)} payments; {proven}.")


def paid(console: Console, entries: Sequence[Entry]) -> None:
    """Tell that a settlement was paid."""
    console.print(f"All {len(entries)} payments are recorded, effective {entries[0].effective_on}.")


def ending(
    console: Console, positions: Positions, unpaid: Sequence[SettlementPayment], verification: Verification
) -> None:
    """Tell how everybody stands in the end."""
    console.print()
    console.rule("[bold]Where everybody stands")
    title = f"Positions at entry {positions.number}, closed through {positions.closed_through}"
    table = _table(title, ("member",), ("held", "lent", "borrowed", "due", "blended unit cost"))
    for each in positions.members:
        figures = (str(each.held), str(each.lent), str(each.borrowed), _money(each.due), _unit(each.blended_unit_cost))
        table.add_row(each.member, *figures)
    table.add_row("stock", str(positions.stock))
    console.print(table)
    for each_unpaid in unpaid:
        amount = _money(each_unpaid.unpaid)
        console.print(f"Still unpaid: {each_unpaid.id}, {each_unpaid.payer} to {each_unpaid.payee}, {amount}.")
    state = "every number, hash and projection holds" if verification.sound else "[red]something doesn't hold[/]"
    console.print(f"The journal has {verification.entries} entries; {state}. Head {verification.head[:16]}…")


def _money(amount: Decimal) -> str:
    return f"{amount:,}"


def _costed(value: Costed) -> str:
    return f"{value.quantity} / {_money(value.cost)}" if value.quantity or value.cost else "–"


def _unit(cost: UnitCost | None) -> str:
    return "–" if cost is None else str(cost.shown)
