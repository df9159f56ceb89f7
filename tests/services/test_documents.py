"""All statements of a month at once: of one costing, whatever is recorded meanwhile, and one read ahead at the most."""

import pytest

from pool_api.domain.entries import Draw, Reversal, Use, WriteOff, WriteOffReason
from pool_api.domain.reversals import IN_ORDER
from pool_api.domain.values import STOCK, Month
from pool_api.services import documents
from pool_api.services.documents import MonthEntries, statement_of, statements_of
from pool_api.services.office import Office
from pool_api.store.engine import reading
from pool_api.store.facts import read_numbered
from tests.bench.filling import MONTH, POOL
from tests.services.test_costs import KEEPER, ONE, TWO, office, record

__all__ = ["office"]

SHOPS = [f"SHOP-{number:03d}" for number in range(5)]


def told(entries: MonthEntries) -> tuple[object, ...]:
    """Give what a statement is made of, by value."""
    return entries.pool.number, entries.month.sheet, entries.entries, entries.targets


def test_each_member_has_what_its_own_statement_is_made_of(office: Office) -> None:
    month, found = statements_of(office, KEEPER, POOL, MONTH)
    made = dict(found)

    assert MONTH == month.month
    assert SHOPS == list(made)
    for member, entries in made.items():
        assert entries.entries
        assert told(statement_of(office, KEEPER, POOL, MONTH, member)) == told(entries)


def test_targets_are_all_that_reversals_reverse(office: Office) -> None:
    _, found = statements_of(office, KEEPER, POOL, MONTH)
    reversals = 0
    for _, entries in found:
        wanted = [each.body.entry for each in entries.entries if isinstance(each.body, Reversal)]
        reversals += len(wanted)
        with reading(office.engine, POOL) as connection:
            assert read_numbered(connection, POOL, wanted) == entries.targets

    assert reversals


def test_what_is_recorded_meanwhile_is_in_none_of_them(office: Office) -> None:
    before = dict(statements_of(office, KEEPER, POOL, MONTH)[1])
    _, found = statements_of(office, KEEPER, POOL, MONTH)
    made = dict([next(found)])

    for member in (ONE, TWO, "SHOP-004"):
        record(office, Draw(member=member, quantity=1), MONTH.last)
        statement_of(office, KEEPER, POOL, MONTH, member)
        record(office, Use(member=member, quantity=1, item="TUNE-1", job="J-1"), MONTH.first)
        statement_of(office, KEEPER, POOL, MONTH, member)
    made.update(found)

    assert {member: told(entries) for member, entries in before.items()} == {
        member: told(entries) for member, entries in made.items()
    }


def test_one_that_is_left_unread_lets_go_of_the_database(office: Office) -> None:
    for _ in range(10):
        _, found = statements_of(office, KEEPER, POOL, MONTH)
        next(found)
        del found

    _, found = statements_of(office, KEEPER, POOL, Month(2026, 11))
    assert [()] * len(SHOPS) == [tuple(each.entries) for _, each in found]


def test_what_names_no_member_is_read_once_and_anew_when_the_month_has_changed(office: Office) -> None:
    before = statement_of(office, KEEPER, POOL, MONTH, ONE)
    kept = office.of_nobody[POOL]
    statement_of(office, KEEPER, POOL, MONTH, TWO)
    assert kept is office.of_nobody[POOL]

    lost = WriteOff(holder=STOCK, quantity=1, reason=WriteOffReason.LOST)
    record(office, lost, MONTH.first)

    for member in (ONE, TWO):
        made = statement_of(office, KEEPER, POOL, MONTH, member)
        (added,) = (each for each in made.entries if each.number > before.pool.number)
        assert lost == added.body
        assert sorted(made.entries, key=IN_ORDER) == list(made.entries)


def test_too_many_that_name_no_member_are_not_kept(office: Office, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(documents, "REMEMBERED", 0)
    record(office, WriteOff(holder=STOCK, quantity=1, reason=WriteOffReason.LOST), MONTH.first)

    one, two = (statement_of(office, KEEPER, POOL, MONTH, ONE) for _ in range(2))

    assert not office.of_nobody
    assert told(one) == told(two)
