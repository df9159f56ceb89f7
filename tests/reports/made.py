"""Statements and month reports for the tests of documents: of journals written by hand, or by chance."""

from collections.abc import Mapping
from datetime import date

from pool_api.domain.activity import gathered
from pool_api.domain.book import held_change
from pool_api.domain.chain import month_chain
from pool_api.domain.costing import Terms
from pool_api.domain.entries import (
    Entry,
    Json,
    Purchase,
    Reversal,
    Use,
)
from pool_api.domain.netting import settle
from pool_api.domain.paying import plan
from pool_api.domain.pool import Member, Policy, Pool
from pool_api.domain.sheets import Sheet, loans_by_member
from pool_api.domain.values import Currency, Month
from pool_api.reports.overview import Overview, OverviewFacts, overview
from pool_api.reports.statement import MonthFacts, Statement, statement
from pool_api.services.costs import plan_json
from tests.domain.journals import CODES, LADDER, MONTHS, Journal, Rules, shops, under

HASH = "5f" * 32
USUAL = under(Policy())
RIVERSIDE = Pool(
    id="riverside",
    name="Riverside",
    vendor="Norvane Tuning Systems",
    currency=Currency("EUR"),
    time_zone="Europe/Vienna",
    began_on=date(2026, 11, 1),
)


def busy_month(count: int) -> Journal:
    """Give a month with so many uses of ALDER, on jobs with long names."""
    journal = Journal()
    journal.write(Purchase(into="ALDER", paid_by="ALDER", quantity=10 * count, amount=70_00 * count))
    for place in range(count):
        job = f"J-{place:05d} fleet of the harbour authority"
        journal.write(Use(member="ALDER", quantity=place % 9 + 1, item="CAL-M", job=job), place % 30 + 1)
    return journal


def sheets_of(journal: Journal, currency: Currency, rules: Rules) -> tuple[dict[Month, Sheet], dict[Month, Json]]:
    """Give the months' sheets and how each is settled, under each month's policy."""
    settled: dict[Month, Json] = {}

    def dues_after(sheet: Sheet) -> Mapping[str, int]:
        found = settle(sheet.dues, sheet.stock.closing.cost, rules[sheet.month], dict.fromkeys(CODES, 1))
        settled[sheet.month] = {
            "carried": [{"member": member, "amount": amount} for member, amount in found.carried],
            "small": [{"member": member, "amount": amount} for member, amount in found.small],
            **plan_json(plan(dict(found.nets), rules[sheet.month], None)),
        }
        return dict(found.carried)

    chain = month_chain(
        gathered(journal.entries),
        months=MONTHS,
        terms_of=lambda month: Terms(policy=rules[month], members=shops(), currency=currency, ladder=LADDER),
        settle=dues_after,
    )
    return {link.sheet.month: link.sheet for link, _ in chain}, settled


def targets_of(journal: Journal) -> dict[int, Entry]:
    """Give what reversals reverse, by number."""
    reversed_ = {entry.body.entry for entry in journal.entries if isinstance(entry.body, Reversal)}
    return {entry.number: entry for entry in journal.entries if entry.number in reversed_}


def held_before(journal: Journal, member: str | None, month: Month) -> int:
    """Give what a member held, or what was in stock (None), when a month began."""
    targets = targets_of(journal)
    return sum(
        held_change(member, entry, targets[entry.body.entry] if isinstance(entry.body, Reversal) else None)
        for entry in journal.entries
        if entry.effective_on < month.first
    )


def month_facts(journal: Journal, month: Month, *, closed: bool, pool: Pool, rules: Rules) -> MonthFacts:
    """Give what the statements of a month are made from; of a closed one nothing is paid yet."""
    sheets, settled = sheets_of(journal, pool.currency, rules)
    planned = settled[month]["payments"]
    return MonthFacts(
        pool=pool,
        sheet=sheets[month],
        loans=loans_by_member(sheets[month]),
        settlement=settled[month],
        payments=[(f"{month}-{place}" if closed else None, 0) for place, _ in enumerate(planned, start=1)],
        closed=closed,
        entries=sorted(journal.of(month), key=lambda each: (each.effective_on, each.number)),
        targets=targets_of(journal),
        number=len(journal.entries),
        hash=HASH,
    )


def statement_of(
    journal: Journal,
    code: str,
    *,
    month: Month = MONTHS[0],
    closed: bool = False,
    pool: Pool = RIVERSIDE,
    rules: Rules = USUAL,
    member: Member | None = None,
) -> Statement:
    """Give a member's statement of a month."""
    shop = member or Member(code=code, name=f"{code.title()} Workshop", joined_on=date(2026, 1, 1))
    return statement(
        month_facts(journal, month, closed=closed, pool=pool, rules=rules), shop, held_before(journal, code, month)
    )


def overview_of(
    journal: Journal, month: Month = MONTHS[0], *, closed: bool = False, today: date = MONTHS[-1].last
) -> Overview:
    """Give the overview of a month, some time after it unless today says otherwise."""
    facts = month_facts(journal, month, closed=closed, pool=RIVERSIDE, rules=USUAL)
    sheets, _ = sheets_of(journal, RIVERSIDE.currency, USUAL)
    return overview(
        OverviewFacts(
            pool=RIVERSIDE,
            sheets=[sheet for each, sheet in sheets.items() if each <= month],
            entries=facts.entries,
            targets=facts.targets,
            stock_before=held_before(journal, None, month),
            today=today,
            closed=closed,
            number=facts.number,
            hash=facts.hash,
        )
    )
