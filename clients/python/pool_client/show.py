"""What people are shown: models become tables of text. Pure; how a table gets onto a screen is said in table.py.

Amounts keep the digits that the service gives, with commas between thousands; only a pool's terms, and what an entry
or a mend says, stand as they are sent. Credits are whole numbers, and what is absent is a dash.
"""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal

from pool_client.calls.reading import EntryInFull, Verification
from pool_client.cells import replacement as _replacement
from pool_client.cells import tabulated as _table
from pool_client.cells import text as _text
from pool_client.models.directory import Key, Member, Policy, PolicyFrom, Pool
from pool_client.models.entries import Entry
from pool_client.models.months import (
    CarriedLoan,
    EntryCost,
    Job,
    Lending,
    MemberCost,
    MonthListed,
    Positions,
    Settlement,
    SettlementPayment,
    Sheet,
)
from pool_client.models.statements import Blended, Statement, StatementLoan
from pool_client.models.vendor import ColumnProfile
from pool_client.show_saving import shared
from pool_client.table import Table
from pool_client.wire import write

# --- the pool --------------------------------------------------------------------------------------------------------


def terms(pool: Pool) -> list[Table]:
    """Show a pool's terms and its policy."""
    told = write(pool)
    del told["policy"]
    rows = [(name.replace("_", " "), value) for name, value in told.items()]
    return [_table(f"Pool {pool.name}", "term|is", [*rows, *rules(pool.policy)])]


def rules(policy: Policy) -> list[tuple[str, str]]:
    """Give each rule of a policy with what it says."""
    told = write(policy)
    told["no_payments_between"] = ", ".join("+".join(pair) for pair in policy.no_payments_between)
    return [(name.replace("_", " "), _text(value)) for name, value in told.items()]


def policies(found: Iterable[PolicyFrom]) -> list[Table]:
    """Show policies, one beside the other."""
    told = [dict(rules(each)) for each in found]
    rows = [(name, *(each[name] for each in told)) for name in told[0] if name != "from month"]
    return [_table("Policies", "|".join(["rule", *(f"from {each['from month']}" for each in told)]), rows)]


def members(found: Iterable[Member]) -> list[Table]:
    """Show the members."""
    rows = (
        (each.code, each.name, each.joined_on, each.left_on, each.handles[-1].handle if each.handles else None)
        for each in found
    )
    return [_table("Members", "code|name|joined on|left on|vendor account", rows)]


def keys(found: Iterable[Key]) -> list[Table]:
    """Show API keys, never their texts."""
    rows = (
        (each.key_id, each.name, each.role, each.member, each.last_used_at, each.expires_at, each.revoked_at)
        for each in found
    )
    return [_table("Keys", "id|name|role|member|last used|expires|ended", rows)]


def positions(found: Positions) -> list[Table]:
    """Show what everybody has and owes."""
    when = "now" if found.as_of is None else f"at the end of {found.as_of}"
    rows = [
        (each.member, each.held, each.lent, each.borrowed, each.blended_unit_cost, each.due) for each in found.members
    ]
    stock = f"Stock: {found.stock:,} credits, in the vendor account of {found.custodian or 'nobody named'}."
    loans = (f"{each.borrower} owes {each.lender} {each.quantity:,} credits." for each in found.open_loans)
    columns = "member|>held|>lent|>borrowed|>blended unit cost|>due"
    words = [stock, *loans, *([_replacement(found.replacement)] if found.replacement else [])]
    return [_table(f"Positions {when} (month {found.month}, entry {found.number})", columns, rows, *words)]


# --- the journal -----------------------------------------------------------------------------------------------------


def entries(found: Iterable[Entry]) -> list[Table]:
    """Show entries, a line each."""
    rows = ((str(each.number), each.effective_on, each.kind, body_words(each.body), each.note) for each in found)
    return [_table("Entries", ">no.|day|kind|says|note", rows)]


def body_words(body: object) -> str:
    """Say what a body says."""
    said = write(body)
    return ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in said.items() if not _left_out(value))


def _left_out(value: object) -> bool:
    return value is False or isinstance(value, Mapping | list)


def entry(found: EntryInFull) -> list[Table]:
    """Show one entry with all that refers to it."""
    one = found.entry
    rows = [
        ("kind", one.kind),
        ("says", body_words(one.body)),
        ("day", one.effective_on),
        ("recorded", f"{one.recorded_at} by {one.recorded_by}"),
        ("note", one.note),
        ("reference", one.reference),
        ("hash", one.hash),
        ("reversed so far", found.undone),
    ]
    tables = [_table(f"Entry {one.number}", "what|is", rows)]
    return tables + (entries(found.referring) if found.referring else [])


def recorded(one: Entry) -> list[Table]:
    """Show the receipt of an entry, in one line."""
    return [
        _table(f"Recorded as entry {one.number} of {one.effective_on}: {one.kind}, {body_words(one.body)}.", "", [])
    ]


def verification(found: Verification) -> list[Table]:
    """Show what a verification found."""
    word = "Every number, hash and projection holds." if found.sound else "The journal does not hold."
    rows = ((each.number or "–", each.problem) for each in found.findings)
    return [_table(f"{found.entries:,} entries, head {found.head}", ">entry|problem", rows, word)]


# --- months ----------------------------------------------------------------------------------------------------------


def months(found: Iterable[MonthListed]) -> list[Table]:
    """Show which months are closed."""
    return [
        _table("Months", "month|state|>closed by entry", ((each.month, each.state, each.close_entry) for each in found))
    ]


def sheet(found: Sheet) -> list[Table]:
    """Show a month's sheet: members with credits / cost, the stock, and loans."""
    state = "closed" if found.state == "closed" else "open, as far as it has come"
    price = f"Pool price {found.pool_price.shown} = {found.pool_price.exact} minor units." if found.pool_price else ""
    stock = found.stock
    rows = [
        (
            each.member,
            each.available,
            each.blended_unit_cost,
            each.loans_from_it,
            each.uses,
            each.closing,
            each.lending_gain or None,
            each.due.total,
        )
        for each in found.members
    ]
    columns = "member|>available|>blended|>lent|>used|>closing|>lending gain|>due"
    words = [price] if price else []
    words += [
        f"Stock: opened {_text(stock.opening)}, bought {_text(stock.bought)}, closes {_text(stock.closing)}.",
        *(
            f"Warning: {each.holder} {each.rule.replace('_', ' ')} by {each.size:,} on {each.on}."
            for each in found.warnings
        ),
    ]
    words += [f"Can't be closed: {found.obstacle.detail}"] if found.obstacle else []
    return [
        _table(f"Month {found.month} ({state})", columns, rows, *words),
        *_loans("Loans settled", (*found.loans_settled, *found.loans_agreed)),
        *_loans("Loans carried on", found.loans_carried),
        *_loans("Returned of earlier loans", found.loans_returned),
        *_open_loans("Settled of earlier loans", found.carried_settled),
        *_open_loans("Open loans", found.open_loans),
        *(shared(found.saving) if found.saving else []),
    ]


def entry_costs(found: Iterable[EntryCost]) -> list[Table]:
    """Show what the credits of each entry had cost."""
    return [_table("What entries cost", ">entry|>cost", ((each.entry, each.cost) for each in found))]


def _loans(title: str, found: Sequence[Lending] | Sequence[StatementLoan]) -> list[Table]:
    rows = [(each.lender, each.borrower, each.quantity, each.unit_price, each.amount) for each in found]
    return [_table(title, "lender|borrower|>credits|>unit price|>amount", rows)] if rows else []


def _open_loans(title: str, found: Sequence[CarriedLoan]) -> list[Table]:
    rows = [(each.lender, each.borrower, each.quantity, each.value) for each in found]
    return [_table(title, "lender|borrower|>credits|>value", rows)] if rows else []


def settlement(found: Settlement) -> list[Table]:
    """Show how a month is settled."""
    count, least = len(found.payments), found.lower_bound
    proof = "no plan has fewer" if found.proven else f"no plan has fewer than {least}"
    nets = {each.member: each.amount for each in found.nets}
    forward: dict[str, Decimal] = {}
    for each in (*found.carried, *found.small):
        forward[each.member] = forward.get(each.member, Decimal(0)) + each.amount
    rows = [(member, forward.get(member), nets.get(member)) for member in sorted({*nets, *forward})]
    payments = [(each.id, each.payer, each.payee, each.amount, each.paid) for each in found.payments]
    return [
        _table(f"Settlement of {found.month} ({found.state})", "member|>carried forward|>net", rows),
        _table(
            f"{count} payments; {proof}",
            "id|from|to|>amount|>paid",
            payments,
            *_ways_round(found),
            f"Digest: {found.digest}",
            *found.cautions,
        ),
    ]


def _ways_round(found: Settlement) -> list[str]:
    """Say who passes money on, and who can't pay or be paid at all."""
    said = [f"Both pay and receive: {', '.join(found.go_betweens)}."] if found.go_betweens else []
    if found.unpayable:
        said += [
            f"No payments are planned: {', '.join(found.unpayable)} can't pay or be paid as the pool's pairs stand.",
            "The month can't be closed like this.",
        ]
    return said


def settlement_payments(found: Iterable[SettlementPayment]) -> list[Table]:
    """Show settlement payments."""
    rows = ((e.id, e.payer, e.payee, e.amount, e.paid, e.unpaid, e.age_days) for e in found)
    return [_table("Settlement payments", "id|from|to|>amount|>paid|>unpaid|>days old", rows)]


def statement(found: Statement) -> list[Table]:
    """Show a member's statement: its entries, how its blended unit cost came about, loans, due and payments."""
    lines = [(str(each.entry), each.on, each.what, each.credits, each.cost) for each in found.lines]
    held = f"Held {found.opening.held:,} when the month began, {found.closing.held:,} at its end."
    due: list[tuple[str, Decimal]] = [(each.words, each.amount) for each in found.due if each.amount]
    due += [("due", found.due_total), ("carried forward", found.carried_forward)]
    due += [("too small to pay", found.too_small_to_pay)] if found.too_small_to_pay else []
    payments = [(each.direction, each.other, each.amount, each.paid) for each in found.payments]
    rests = f"Rests on entry {found.rests_on.number}, hash {found.rests_on.hash}."
    title = f"Statement of {found.member_name} for {found.month} ({found.state}), {found.currency}"
    return [
        _table(title, ">entry|day|what|>credits|>cost", lines, held, _blended(found.blended)),
        *_loans("Loans settled", found.loans),
        *_loans("Loans carried on", found.loans_carried),
        *_loans("Returned of earlier loans", found.loans_returned),
        *_loans("Settled of earlier loans", found.carried_settled),
        *_loans("Open loans", found.open_loans),
        _table("Due", "line|>amount", due),
        _table("Payments", "to make or expect|other|>amount|>paid", payments, rests, *found.cautions),
    ]


def _blended(found: Blended) -> str:
    parts = ", ".join(f"{name.replace('_', ' ')} {_text(part)}" for name, part in found.from_.items())
    made = f": {parts}" if parts else ""
    cost = f"{found.available.quantity:,} credits that cost {found.available.cost:,}"
    return f"Blended unit cost {_text(found.unit_cost)} over {cost}{made}."


def member_cost(found: MemberCost) -> list[Table]:
    """Show a member's blended unit cost by month."""
    rows = ((each.month, each.state, each.available, each.cost, each.blended_unit_cost) for each in found.items)
    words = [_replacement(found.replacement)] if found.replacement else []
    return [_table(f"Cost of {found.member}'s credits", "month|state|>credits|>cost|>blended unit cost", rows, *words)]


def job(found: Job) -> list[Table]:
    """Show what a job cost and earned."""
    rows = [(str(u.entry), u.on, u.member, u.item, u.left, u.cost, u.replaced, u.price, u.margin) for u in found.uses]
    words = [f"{found.credits:,} credits cost {found.cost:,}; charged {found.price:,}; margin {found.margin:,}."]
    if found.replacement:
        words += [f"Replacing them today would cost {found.replaced_now:,}.", _replacement(found.replacement)]
    columns = ">entry|day|member|item|>credits|>cost|>to replace then|>price|>margin"
    return [_table(f"Job {found.job}", columns, rows, *words)]


# --- the vendor's record ---------------------------------------------------------------------------------------------


def profiles(found: Iterable[ColumnProfile]) -> list[Table]:
    """Show column profiles."""
    rows = ((each.name, each.day, each.counterparty or each.giver, each.quantity or each.incoming) for each in found)
    return [_table("Column profiles", "name|day|other account|credits", rows)]
