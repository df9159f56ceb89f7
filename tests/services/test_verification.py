"""Whatever is changed in a stored journal or a projection behind the service's back is found, and where it begins."""

import random
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from sqlalchemy import Engine, create_engine, text

from pool_api.domain.book import close_of
from pool_api.domain.entries import Close, Json, body_json, canonical
from pool_api.domain.hashing import entry_hash
from pool_api.services.costs import preview_digest
from pool_api.services.frozen import COSTS
from pool_api.store import journal
from tests.databases import Database
from tests.rest.test_worked_example import record_example
from tests.served import POOL, Served

SEED = 20261125


@pytest.fixture
def recorded(service: Served) -> Served:
    record_example(service)
    book = service.book()
    book.close(month="2026-09", digest=book.settlement(month="2026-09").digest)
    return service


@pytest.fixture
def outside(database: Database) -> Iterator[Engine]:
    """Somebody with the database at hand, who has taken the triggers away."""
    engine = create_engine(database.superuser_url.replace("postgresql://", "postgresql+psycopg://"))
    with engine.begin() as connection:
        if database.backend == "sqlite":
            for name in connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'trigger'")).scalars():
                connection.execute(text(f"DROP TRIGGER {name}"))
        else:
            connection.execute(text("ALTER TABLE entry DISABLE TRIGGER ALL"))
            connection.execute(text("SET session_replication_role = replica"))
    yield engine
    engine.dispose()


def first_finding(served: Served) -> int | None:
    found = served.book().verification()
    assert found.sound is not bool(found.findings)
    return found.findings[0].number if found.findings else None


CHANGES = {
    "a quantity": "UPDATE entry SET body = replace(body, '24', '25') WHERE number = 6",
    "a note": "UPDATE entry SET note = 'nothing' WHERE number = 6",
    "a day": "UPDATE entry SET effective_on = '2026-09-05' WHERE number = 6",
    "who recorded it": "UPDATE entry SET recorded_by = 'keeper/-/000000000000' WHERE number = 6",
    "when it was recorded": "UPDATE entry SET recorded_at = '2026-11-10T12:00:00.000001Z' WHERE number = 6",
    "its hash": "UPDATE entry SET hash = previous_hash WHERE number = 6",
    "the hash before it": "UPDATE entry SET previous_hash = hash WHERE number = 6",
    "its body is no JSON": "UPDATE entry SET body = 'gone' WHERE number = 6",
    "its kind": "UPDATE entry SET kind = 'draw' WHERE number = 6",
    "whose it is": "UPDATE entry SET member = 'ALDER' WHERE number = 6",
    "whose it is, too": "UPDATE entry SET other = NULL WHERE number = 6",
    "the job it is found by": "UPDATE entry SET job = 'J-9' WHERE number = 6",
    "what it is about": "UPDATE entry SET target = 1 WHERE number = 6",
}


@pytest.mark.parametrize("change", CHANGES)
def test_a_changed_entry_is_found_by_its_number(recorded: Served, outside: Engine, change: str) -> None:
    assert first_finding(recorded) is None
    with outside.begin() as connection:
        assert 1 == connection.execute(text(CHANGES[change])).rowcount

    assert 6 == first_finding(recorded)


PROJECTIONS = {
    "credits held": "UPDATE holding SET held = held + 1 WHERE member = 'ALDER'",
    "the stock": "UPDATE head SET stock = stock + 1",
    "an open loan": "INSERT INTO open_loan (pool_id, lender, borrower, quantity) VALUES ('riverside', 'A', 'B', 1)",
    "a settlement payment": "UPDATE settlement_payment SET paid = 1 WHERE payment_id = '2026-09-1'",
    "what is reversed": "INSERT INTO undone (pool_id, number, quantity) VALUES ('riverside', 3, 1)",
    "the closed month": "UPDATE head SET closed_through = NULL",
    "the last number": "UPDATE head SET number = number - 1",
}


@pytest.mark.parametrize("projection", PROJECTIONS)
def test_a_changed_projection_is_found(recorded: Served, outside: Engine, projection: str) -> None:
    with outside.begin() as connection:
        assert connection.execute(text(PROJECTIONS[projection])).rowcount >= 1

    assert 0 == first_finding(recorded)


def test_a_journal_that_lost_its_end_is_found_against_its_head(recorded: Served, outside: Engine) -> None:
    with outside.begin() as connection:
        connection.execute(text("DELETE FROM entry WHERE number = 15"))

    problems = {finding.problem.partition(":")[0] for finding in recorded.book().verification().findings}
    assert {"number", "hash", "closed through"} <= problems


@pytest.mark.parametrize("place", [1, 7, 14])
def test_an_entry_taken_out_is_found_at_the_gap(recorded: Served, outside: Engine, place: int) -> None:
    with outside.begin() as connection:
        connection.execute(text(f"DELETE FROM entry WHERE number = {place}"))

    assert place + 1 == first_finding(recorded)


def test_two_entries_in_each_others_place_are_found_at_the_first(recorded: Served, outside: Engine) -> None:
    with outside.begin() as connection:
        for now, then in ((5, 99), (6, 5), (99, 6)):
            connection.execute(text(f"UPDATE entry SET number = {then} WHERE number = {now}"))

    assert 5 == first_finding(recorded)


def test_an_entry_put_in_at_the_end_is_found(recorded: Served, outside: Engine) -> None:
    columns = "pool_id, kind, effective_on, recorded_at, recorded_by, note, body, member, other"
    with outside.begin() as connection:
        last = connection.execute(text("SELECT hash FROM entry WHERE number = 15")).scalar_one()
        connection.execute(
            text(
                f"INSERT INTO entry (number, previous_hash, hash, {columns}) "
                f"SELECT 16, '{last}', '{last[::-1]}', {columns} FROM entry WHERE number = 6"
            )
        )

    assert 16 == first_finding(recorded)


def test_any_changed_byte_of_any_text_is_found(recorded: Served, outside: Engine) -> None:
    """A hundred changes at random places, one at a time; the seed is printed when one isn't found."""
    chance = random.Random(SEED)  # noqa: S311 - repeatable, not secret
    columns = ("kind", "effective_on", "recorded_at", "recorded_by", "note", "body", "previous_hash", "hash")
    missed = []
    for _ in range(100):
        number, column = chance.randint(1, 15), chance.choice(columns)
        with outside.begin() as connection:
            at = text(f"SELECT {column} FROM entry WHERE number = :number")
            before: str = connection.execute(at, {"number": number}).scalar_one()
            place = chance.randint(0, len(before))
            after = before[:place] + chance.choice("0aZ~") + before[place + 1 :]
            put = text(f"UPDATE entry SET {column} = :value WHERE number = :number")
            connection.execute(put, {"value": after, "number": number})
        if after != before and first_finding(recorded) != number:
            missed.append((SEED, number, column, before, after))
        with outside.begin() as connection:
            connection.execute(put, {"value": before, "number": number})

    assert [] == missed
    assert first_finding(recorded) is None


SAVING: Json = {
    "rule": "shapley",
    "ladder": {"valid_from": "2026-09-01", "currency": {"code": "EUR"},
               "tiers": [{"from_credits": 1, "unit_price": "9.80"}]},
    "cost": 1,
}  # fmt: skip
FROZEN: dict[str, Callable[[Close], Close]] = {
    "its digest": lambda close: replace(close, digest="0" * 64),
    "its sheet": lambda close: replace(close, sheet={**close.sheet, "price": "7/1"}),
    "its settlement": lambda close: replace(close, settlement={**close.settlement, "lower_bound": 1}),
    "what entries cost": lambda close: replace(close, sheet={**close.sheet, "costs": "0" * 64}),
    "members' figures": lambda close: _seen({**close.sheet, "members": close.sheet["members"][1:]}, close),
    "a saving that nobody agreed to share": lambda close: _seen({**close.sheet, "saving": SAVING}, close),
}


def _seen(sheet: Json, close: Close) -> Close:
    """Give a close of another sheet with the digest that a preview of it would have had."""
    previewed = {name: each for name, each in sheet.items() if name != COSTS}
    return replace(close, sheet=sheet, digest=preview_digest(close.month, previewed, close.settlement))


@pytest.mark.parametrize("change", FROZEN)
def test_a_close_that_froze_what_its_entries_do_not_give_is_found(
    recorded: Served, outside: Engine, change: str
) -> None:
    """Even where whoever changed it made a chain of hashes that fits."""
    with outside.begin() as connection:
        entry = journal.read_entry(connection, POOL, 15)
        assert entry is not None
        forged = replace(entry, body=FROZEN[change](close_of(entry)))
        body, hash_ = canonical(body_json(forged.body)).decode(), entry_hash(POOL, forged)
        connection.execute(text("UPDATE entry SET body = :body WHERE number = 15"), {"body": body})
        connection.execute(text("UPDATE entry SET hash = :hash WHERE number = 15"), {"hash": hash_})
        connection.execute(text("UPDATE head SET hash = :hash"), {"hash": hash_})

    assert 15 == first_finding(recorded)


# --- against papers that members have --------------------------------------------------------------------------------


def known(served: Served, number: int) -> str:
    entry = served.book().entry(number=number).entry
    return f"{number}:{entry.hash[:16]}"


def found_against(served: Served, paper: str) -> list[tuple[int, str]]:
    found = served.book().verification(known=paper)
    assert found.sound is not bool(found.findings)
    return [(each.number, each.problem) for each in found.findings]


def test_a_journal_that_has_what_a_paper_names_holds(recorded: Served) -> None:
    assert [] == found_against(recorded, known(recorded, 15))
    assert [] == found_against(recorded, known(recorded, 1))


def test_a_journal_put_back_to_an_earlier_day_is_found_by_a_paper_of_a_later_one(recorded: Served) -> None:
    assert [(16, "the journal ends before it")] == found_against(recorded, f"16:{'a' * 64}")


def test_a_journal_that_was_written_anew_is_found_by_a_paper_of_before(recorded: Served) -> None:
    """Its hashes and projections may all hold: only who has a paper can tell."""
    written_anew = [(15, "it has another hash than it had when it was told of")]

    assert written_anew == found_against(recorded, f"15:{'0' * 16}")
    assert written_anew == found_against(recorded, f"{known(recorded, 15)}{'0' * 48}")
