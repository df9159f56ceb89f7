"""What is kept of a pool's costing is worth something only while it says the same as costing from scratch."""

from collections import Counter
from collections.abc import Iterator
from datetime import date, timedelta

import pytest
from sqlalchemy import create_engine, text

from pool_api.domain.access import Caller, Role
from pool_api.domain.activity import Activities, gathered
from pool_api.domain.chain import month_chain
from pool_api.domain.costing import Terms
from pool_api.domain.entries import (
    Acknowledgement,
    Body,
    Command,
    Draw,
    Entry,
    Json,
    Purchase,
    Reversal,
    Use,
    Verdict,
    parties,
)
from pool_api.domain.pool import Policy
from pool_api.domain.values import STOCK, Month
from pool_api.rest.compose import Variables, close_office, open_office
from pool_api.services import explaining
from pool_api.services.costs import CostedPool, Costing, costed, costed_anew, costed_as_of
from pool_api.services.explaining import Explained
from pool_api.services.office import Office
from pool_api.settings import Settings
from pool_api.store import directory, journal
from pool_api.store.directory import ApiKey
from pool_api.store.engine import reading, writing
from pool_api.store.errors import StoreDamaged
from pool_api.store.journal import EntryFilter
from pool_api.store.writer import Request
from tests.bench.filling import MONTH, NOW, POOL, fill
from tests.databases import Database, only_sqlite

KEEPER = Caller(role=Role.KEEPER, pool=POOL, member=None, key_id="keeper", name="keeper")
ONE, TWO = "SHOP-000", "SHOP-001"


@pytest.fixture
def office(database: Database) -> Iterator[Office]:
    """An office whose book has 400 entries of five members in one month."""
    made = open_office(Settings(database_url=database.url, connections=3), Variables(now=lambda: NOW))
    fill(made.engine, 400, 5, Policy())
    key = ApiKey(key_id="keeper", name="k", role="keeper", pool=POOL, member=None, created_at="2026-09-01")
    with writing(made.engine, POOL) as connection:
        directory.write_key(connection, key, "secret")
    yield made
    close_office(made)


def record(office: Office, body: Body, on: date) -> None:
    kept = office.costings.get(POOL)
    name = f"{kept.found.number if kept else 0}"
    office.writer.record(
        Request(
            pool=POOL,
            caller=KEEPER,
            operation="test",
            key=name,
            fingerprint=name,
            commands=(Command(body=body, effective_on=on, recorded_by="k"),),
        )
    ).result(30)


def assert_as_from_scratch(office: Office) -> CostedPool:
    found, anew = costed(office, POOL), costed_anew(office, POOL)
    assert (anew.number, anew.hash) == (found.number, found.hash)
    for month, costed_month in anew.months.items():
        assert costed_month.sheet == found.months[month].sheet
        assert costed_month.settlement == found.months[month].settlement
        assert costed_month.numbers == found.months[month].numbers
    return found


def one_of(office: Office, kind: str) -> Entry:
    with reading(office.engine, POOL) as connection:
        return next(journal.read_entries(connection, POOL, EntryFilter(kinds=(kind,)), after=200))


def test_moved_on_it_is_as_from_scratch_whatever_comes(office: Office) -> None:
    assert_as_from_scratch(office)
    used, drawn = one_of(office, "use").number, one_of(office, "draw").number
    (taker,) = parties(one_of(office, "draw").body)
    later: list[tuple[Body, date]] = [
        (Purchase(into=STOCK, paid_by=ONE, quantity=50, amount=35_000), MONTH.last),
        (Draw(member=TWO, quantity=9), MONTH.first + timedelta(days=3)),
        (Reversal(entry=used, quantity=1), MONTH.last),
        (Reversal(entry=drawn, quantity=1), MONTH.next().first),
        (Acknowledgement(entry=drawn, member=taker, verdict=Verdict.CONFIRMED), MONTH.last),
        (Use(member=TWO, quantity=1, item="TUNE-1", job="J-1"), MONTH.next().first),
    ]
    for body, on in later:
        record(office, body, on)
        assert_as_from_scratch(office)


@pytest.mark.parametrize("days", [-1, 0, 3, 12, 28, 29, 31, 35, 62])
def test_as_of_a_day_counts_what_was_effective_until_then(office: Office, days: int) -> None:
    """Reversals in the month of their entry and in a later one, effective before the day and after it."""
    used = one_of(office, "use")
    later: list[tuple[Body, date]] = [
        (Reversal(entry=used.number, quantity=1), used.effective_on),
        (Reversal(entry=one_of(office, "draw").number, quantity=1), MONTH.last),
        (Reversal(entry=one_of(office, "loan").number, quantity=1), MONTH.next().first),
        (Use(member=TWO, quantity=1, item="TUNE-1", job="J-1"), MONTH.next().first),
    ]
    for body, on in later:
        costed(office, POOL)
        record(office, body, on)
    day = MONTH.first + timedelta(days=days)

    found = costed_as_of(office, POOL, day)

    assert found.months.keys() == {each for each in costed(office, POOL).months if each <= max(Month.of(day), MONTH)}
    with reading(office.engine, POOL) as connection:
        effective = [*journal.read_entries(connection, POOL, EntryFilter(to_day=day))]
    chain = month_chain(
        gathered(effective),
        months=found.months,
        terms_of=lambda month: Terms(
            policy=Policy(), members=found.months[month].members, currency=found.directory.pool.currency
        ),
        settle=lambda sheet: dues_after(found.months[sheet.month].settled),
    )
    assert [each.sheet for each in found.months.values()] == [link.sheet for link, _ in chain]
    assert_as_from_scratch(office)


def dues_after(settled: Json) -> dict[str, int]:
    dues: Counter[str] = Counter()
    for each in (*settled["carried"], *settled["small"]):
        dues[each["member"]] += each["amount"]
    return dues


def test_a_costing_is_given_again_while_nothing_moved(office: Office) -> None:
    assert costed(office, POOL) is costed(office, POOL)


def test_figures_are_kept_while_their_month_is_the_same(office: Office) -> None:
    def price() -> tuple[object, Explained]:
        found = explaining.explain(office, KEEPER, POOL, MONTH, "price", depth=0, after=0, limit=1)
        return office.explained[POOL][1], found

    figures, before = price()
    record(office, Use(member=TWO, quantity=1, item="TUNE-1", job="J-1"), MONTH.next().first)
    again, after = price()
    record(office, Purchase(into=STOCK, paid_by=ONE, quantity=50, amount=1), MONTH.last)
    anew, changed = price()

    assert figures is again is not anew
    assert before.explanations == after.explanations != changed.explanations
    assert before.month.computed_at < after.month.computed_at < changed.month.computed_at


def test_what_is_kept_of_another_journal_is_not_used(office: Office) -> None:
    """As after a database was brought back from a copy: the number is there, but another entry has it."""
    costed(office, POOL)
    kept: Costing = office.costings[POOL]
    assert kept.reached is not None
    kept.reached, kept.activities, kept.stamp = (kept.reached[0], "0" * 64), Activities(), None

    assert_as_from_scratch(office)


@only_sqlite
def test_what_could_not_be_read_on_is_made_anew(office: Office, database: Database) -> None:
    costed(office, POOL)
    record(office, Draw(member=TWO, quantity=1), MONTH.last)
    with create_engine(database.url).begin() as outside:
        outside.execute(text("DROP TRIGGER entry_no_update"))
        outside.execute(text("UPDATE entry SET body = body || '?' WHERE number = 401"))
    with pytest.raises(StoreDamaged):
        costed(office, POOL)
    with create_engine(database.url).begin() as outside:
        outside.execute(text("UPDATE entry SET body = replace(body, '?', '') WHERE number = 401"))

    assert 401 == assert_as_from_scratch(office).number
