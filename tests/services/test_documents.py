"""All statements of a month at once: of one costing, whatever is recorded meanwhile, and one read ahead at the most."""

from pool_api.domain.entries import Draw, Use
from pool_api.domain.values import Month
from pool_api.services.documents import MonthEntries, statement_of, statements_of
from pool_api.services.office import Office
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
