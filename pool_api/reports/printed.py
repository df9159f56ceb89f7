"""A statement as a document to print and sign. Pure: what it says is the statement's, how it looks the typesetter's."""

from collections.abc import Sequence

from pool_api.domain.sheets import Lending
from pool_api.reports.figures import NOTHING, Money, count, month_words, state_words
from pool_api.reports.statement import Line, Statement, shortened
from pool_api.reports.typesetter import Column, Document, Section, Signatures, Table, Words, pdf
from pool_api.reports.written import DUE_WORDS, GAINED, LOANS, PASSED_ON, amount_of, gained

MOST_LINES = 2_000
"""Lines that are printed one by one, on some forty pages; a longer list nobody reads on paper."""


def statement_pdf(made: Statement) -> bytes:
    """Give a statement as PDF; the same statement gives the same bytes. Of more than MOST_LINES lines, those of a day
    and kind stand together."""
    month, pool = month_words(made.month), made.pool
    settles = sum(each.amount for each in made.transfers)
    money = Money(pool.currency)
    return pdf(
        Document(
            title="Statement",
            subtitle=f"{made.member.code}, {month}, {made.member.name}",
            state=state_words(closed=made.closed),
            draft=not made.closed,
            facts=(
                ("Member", f"{made.member.name} ({made.member.code})"),
                ("Month", month),
                ("Pool", pool.name),
                ("Vendor", pool.vendor),
                ("Amounts in", pool.currency.code),
                ("Days in", pool.time_zone),
            ),
            figures=(
                ("Held at the end, credits", count(made.closing_held)),
                ("Blended unit cost", money.unit(made.sheet.unit_cost)),
                ("Due", money.text(made.sheet.due.total)),
                ("To pay" if settles < 0 else "To expect", money.text(abs(settles))),
            ),
            sections=tuple(_sections(made, money)),
            foot=f"Entry {made.number} of the journal, hash {made.hash[:16]}…",
        )
    )


def _sections(made: Statement, money: Money) -> list[Section]:
    return [
        Section(heading="What happened", blocks=_lines(made, money)),
        _blended(made, money),
        *_loans(made, money),
        _due(made, money),
        Section(heading="Payments", blocks=_payments(made, money)),
        _signing(made),
    ]


def _lines(made: Statement, money: Money) -> tuple[Table | Words, ...]:
    short = shortened(made, MOST_LINES)
    first = ("", "", "held when the month began", count(made.opening_held), "")
    last = ("", "", "held when the month ended", count(made.closing_held), "")
    table = Table(
        columns=(
            Column(name="entry", right=True),
            Column(name="day"),
            Column(name="what", wide=True),
            Column(name="credits", right=True),
            Column(name=f"amount, {money.code}", right=True),
        ),
        rows=(first, *(_line(line, money) for line in short.lines), last),
        strong=(0, len(short.lines) + 1),
    )
    if short is made:
        return (table,)
    said = (
        f"There are {count(len(made.lines))} lines; those of one day and kind stand together here. The CSV file has "
        "each of them."
    )
    return Words(text=said), table


def _line(line: Line, money: Money) -> tuple[str, ...]:
    cost = "" if line.cost is None else money.text(line.cost)
    return str(line.entry), line.on, line.what, count(line.credits), cost


def _blended(made: Statement, money: Money) -> Section:
    sheet = made.sheet
    parts = [(GAINED[name], part) for name, part in gained(sheet).items()]
    passed_on = [(words, getattr(sheet, name)) for name, words in PASSED_ON.items()]
    rows = [(words, part) for words, part in parts if any(part)]
    rows.append(("available", sheet.available))
    strong = len(rows) - 1
    rows += [(words, part) for words, part in passed_on if any(part)]
    table = Table(
        columns=(
            Column(name="own credits of the month", wide=True),
            Column(name="credits", right=True),
            Column(name=f"cost, {money.code}", right=True),
        ),
        rows=tuple((words, count(part.quantity), money.text(part.cost)) for words, part in rows),
        strong=(strong,),
    )
    differs = _notes(sheet.difference, _DIFFERENCE, money)
    return Section(heading="Blended unit cost", blocks=(Words(text=_derivation(made, money)), table, *differs))


_GAIN = "What credits lent brought, less what they had cost"
_DIFFERENCE = "What reversals of earlier months brought or took, less what those credits had cost"


def _notes(amount: int, words: str, money: Money) -> tuple[Words, ...]:
    return (Words(text=f"{words}: {money.text(amount)} {money.code}.", kind="note"),) if amount else ()


def _derivation(made: Statement, money: Money) -> str:
    available, code = made.sheet.available, made.pool.currency.code
    if made.sheet.unit_cost is None:
        return "No credits were available this month, so there is no blended unit cost."
    return (
        f"{money.text(available.cost)} {code} for {count(available.quantity)} credits: "
        f"{money.unit(made.sheet.unit_cost)} {code} a credit. What left was costed from these credits together."
    )


def _loans(made: Statement, money: Money) -> list[Section]:
    rows = [
        (
            each.lender,
            each.borrower,
            words,
            count(each.quantity),
            money.unit(each.unit_price) if isinstance(each, Lending) else NOTHING,
            money.text(amount_of(each)),
        )
        for name, words in LOANS.items()
        for each in getattr(made, name)
    ]
    if not rows:
        return []
    table = Table(
        columns=(
            Column(name="from"),
            Column(name="to"),
            Column(name="what became of it", wide=True),
            Column(name="credits", right=True),
            Column(name="unit price", right=True),
            Column(name=f"amount, {money.code}", right=True),
        ),
        rows=tuple(rows),
    )
    return [Section(heading="Loans", blocks=(table, *_notes(made.sheet.lending_gain, _GAIN, money)))]


def _due(made: Statement, money: Money) -> Section:
    due = made.sheet.due
    lines = [(words, getattr(due, name)) for name, words in DUE_WORDS.items()]
    rows = [(words, money.text(amount)) for words, amount in lines if amount]
    total = len(rows)
    rows.append(("due", money.text(due.total)))
    rows.append(("of it carried forward to the next month", money.text(made.carried)))
    rows += [("of it too small to pay, carried forward too", money.text(made.small))] if made.small else []
    settled = sum(each.amount for each in made.transfers)
    rows.append(("of it settled by the payments below", money.text(settled)))
    rest = due.total - made.carried - made.small - settled
    rows += [("of it that no payment settles yet", money.text(rest))] if rest else []
    columns = (Column(name="line", wide=True), Column(name=f"amount, {money.code}", right=True))
    table = Table(columns=columns, rows=tuple(rows), strong=(total,))
    said = f"Above zero is owed to {made.member.code}, below zero {made.member.code} owes."
    return Section(heading="Due", together=True, blocks=(table, Words(text=said, kind="note")))


def _payments(made: Statement, money: Money) -> tuple[Table | Words, ...]:
    if not made.transfers:
        return (Words(text="Nothing to pay and nothing to expect for this month."),)
    table = Table(
        columns=(
            Column(name="payment"),
            Column(name="to make or to expect", wide=True),
            Column(name=f"amount, {money.code}", right=True),
            Column(name="paid", right=True),
            Column(name="unpaid", right=True),
        ),
        rows=tuple(
            (
                each.id or NOTHING,
                f"to make to {each.other}" if each.amount < 0 else f"to expect from {each.other}",
                money.text(abs(each.amount)),
                money.text(each.paid),
                money.text(abs(each.amount) - each.paid),
            )
            for each in made.transfers
        ),
    )
    return (table,)


def _signing(made: Statement) -> Section:
    parties = (f"For {made.member.name}", "For the pool, its keeper")
    return Section(
        heading="Signed",
        together=True,
        blocks=(
            Words(
                text=f"Whoever has the journal up to its entry {made.number} can compute every figure again. "
                f"The hash of that entry is {made.hash}"
            ),
            *_cautions(made.cautions),
            Signatures(parties=parties, asks="place, day, name and signature"),
        ),
    )


def _cautions(cautions: Sequence[str]) -> tuple[Words, ...]:
    return tuple(Words(text=each, kind="note") for each in cautions)
