"""The keeper's report of a month as a document: plots, with the tables and words beside them."""

from collections.abc import Sequence

from pool_api.domain.layers import Costed
from pool_api.domain.sheets import MemberSheet
from pool_api.reports.figures import NOTHING, Money, count, month_words, state_words
from pool_api.reports.overview import Overview
from pool_api.reports.plots import costs_plot, costs_words, lending_plot, lending_words, stock_plot, stock_words
from pool_api.reports.typesetter import Column, Document, Section, Table, Words, pdf


def report_pdf(made: Overview) -> bytes:
    """Give the report as PDF; the same overview gives the same bytes."""
    money, month, stock = Money(made.pool.currency), month_words(made.month), made.sheet.stock
    return pdf(
        Document(
            title="Month report",
            subtitle=f"{month}, {made.pool.name}",
            state=state_words(closed=made.closed),
            draft=not made.closed,
            facts=(
                ("Pool", made.pool.name),
                ("Month", month),
                ("Vendor", made.pool.vendor),
                ("Amounts in", made.pool.currency.code),
            ),
            figures=(
                ("Bought into stock", f"{count(stock.bought.quantity)} / {money.text(stock.bought.cost)}"),
                ("Pool price", money.unit(made.sheet.price)),
                ("Stock at the end", f"{count(stock.closing.quantity)} / {money.text(stock.closing.cost)}"),
            ),
            sections=(
                _costs(made, money),
                _stock(made),
                _lending(made, money),
                _members(made, money),
                *_warnings(made),
                _basis(made),
            ),
            foot=f"Entry {made.number} of the journal, hash {made.hash[:16]}…",
        )
    )


def _costs(made: Overview, money: Money) -> Section:
    shown = {(one.member, each.month): money.unit(one.unit_cost) for each in made.costs for one in each.members}
    months = [each.month for each in made.costs]
    prices = ("pool price", *(money.unit(each.price) for each in made.costs))
    rows = [
        (member, *(shown.get((member, month), NOTHING) for month in months))
        for member in sorted({member for member, _ in shown})
    ]
    columns = (Column(name=money.code, wide=True), *(Column(name=month, right=True) for month in months))
    table = Table(columns=columns, rows=(*rows, prices), strong=(len(rows),), size=9 if len(months) < 9 else 7)
    return Section(
        heading="What credits cost, by month and member",
        blocks=(costs_plot(made), Words(text=costs_words(made), kind="note"), table),
    )


def _stock(made: Overview) -> Section:
    levels = (made.stock_before, *(level.credits for level in made.stock))
    rows = tuple(
        (level.on.isoformat(), _change(level.credits - before), count(level.credits))
        for before, level in zip(levels, made.stock, strict=False)
        if level.credits != before
    )
    table = Table(
        columns=(
            Column(name="day", wide=True),
            Column(name="change, credits", right=True),
            Column(name="in stock at the end of the day", right=True),
        ),
        rows=(("when the month began", "", count(made.stock_before)), *rows),
    )
    words = f"{stock_words(made)} The table has the days that changed it."
    return Section(heading="Stock, by day", blocks=(stock_plot(made), Words(text=words, kind="note"), table))


def _change(credits: int) -> str:
    return f"+{count(credits)}" if credits > 0 else count(credits)


def _lending(made: Overview, money: Money) -> Section:
    words = Words(text=lending_words(made), kind="note")
    if not made.pairs:
        return Section(heading="Who lends and who borrows", blocks=(words,))
    table = Table(
        columns=(
            Column(name="lender"),
            Column(name="borrower", wide=True),
            Column(name="lent", right=True),
            Column(name="returned", right=True),
            Column(name="settled", right=True),
            Column(name=f"for, {money.code}", right=True),
            Column(name="open", right=True),
        ),
        rows=tuple(
            (
                pair.lender,
                pair.borrower,
                count(pair.lent),
                count(pair.returned),
                count(pair.settled),
                money.text(pair.amount),
                count(pair.open),
            )
            for pair in made.pairs
        ),
    )
    return Section(heading="Who lends and who borrows", blocks=(lending_plot(made), words, table))


def _members(made: Overview, money: Money) -> Section:
    columns = ("available", "blended", "lent", "used", "at the end", "lending gain", "due")
    return Section(
        heading="Members: credits and what they cost",
        blocks=(
            Table(
                columns=(Column(name="member", wide=True), *(Column(name=name, right=True) for name in columns)),
                rows=tuple(_member(each, money) for each in made.sheet.members),
                size=8,
            ),
        ),
    )


def _member(each: MemberSheet, money: Money) -> tuple[str, ...]:
    def both(part: Costed) -> str:
        return f"{count(part.quantity)} / {money.text(part.cost)}" if any(part) else NOTHING

    return (
        each.member,
        both(each.available),
        money.unit(each.unit_cost),
        both(each.loans_from_it),
        both(each.uses),
        both(each.closing),
        money.text(each.lending_gain),
        money.text(each.due.total),
    )


def _warnings(made: Overview) -> Sequence[Section]:
    if not made.sheet.warnings:
        return ()
    words = (
        Words(text=f"{each.holder}, {each.on}: {each.rule.replace('_', ' ')} by {count(each.size)}.")
        for each in made.sheet.warnings
    )
    return (Section(heading="Warnings: something is missing or dated wrong", blocks=tuple(words)),)


def _basis(made: Overview) -> Section:
    rests = f"This report rests on entry {made.number} of the journal, whose hash is {made.hash}"
    cautions = (Words(text=each, kind="note") for each in made.cautions)
    return Section(heading="What it rests on", together=True, blocks=(Words(text=rests), *cautions))
