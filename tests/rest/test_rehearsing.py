"""What is looked at before it is recorded is what is recorded, or refused, then; and looking writes nothing."""

import random
from typing import Any

import httpx
import pytest
from sqlalchemy import Connection, func, select

from pool_api.store.engine import reading
from pool_api.store.tables import metadata
from tests.served import POOL, SHOPS, Served

SEED, TURNS = 20261201, 60
DAYS = ("2026-09-05", "2026-09-01", "2026-08-31")
WEIGHTS = (6, 4, 3, 2, 3, 2, 1, 2, 1, 1, 1, 1)
"""How often each kind is made up."""

ON = {"effective_on": "2026-09-05"}


def look(served: Served, *commands: dict[str, Any], key: str = "keeper") -> httpx.Response:
    return served.send("POST", "/batches/preview", {"commands": list(commands)}, key=key, idempotency_key=None)


def made_up(chance: random.Random, entries: int) -> dict[str, Any]:
    """Give a command; often it is refused."""
    member, other = chance.sample((*SHOPS, "ELM"), 2)
    quantity = chance.randint(1, 9)
    kinds: tuple[dict[str, Any], ...] = (
        {"kind": "purchase", "paid_by": member, "quantity": 3 * quantity, "amount": f"{20 * quantity}.00"},
        {"kind": "draw", "member": member, "quantity": quantity},
        {"kind": "loan", "lender": member, "borrower": other, "quantity": quantity},
        {"kind": "return", "borrower": member, "lender": other, "quantity": quantity},
        {"kind": "use", "member": member, "quantity": quantity, "item": "CAL-S", "job": "J-1"},
        {"kind": "reversal", "entry": chance.randint(1, entries + 2), "quantity": quantity},
        {"kind": "write_off", "holder": chance.choice(("stock", member)), "quantity": 1, "reason": "lost"},
        {"kind": "charge", "from_member": member, "to_member": other, "amount": "1.00", "reason": "courier"},
        {"kind": "payment", "from_member": member, "to_member": other, "amount": "2.00", "pays": "2026-08-1"},
        {"kind": "acknowledgement", "entry": 1, "member": member, "verdict": "confirmed"},
        {"kind": "opening", "members": [{"member": member, "held": 3}]},
        {"kind": "relocation", "from_member": member, "to_member": other, "quantity": quantity},
    )
    said = {**chance.choices(kinds, WEIGHTS)[0], "effective_on": chance.choices(DAYS, (8, 8, 1))[0]}
    return {**said, "reference": f"R-{quantity}"} if chance.random() < 0.2 else said


def without_place(entry: dict[str, Any]) -> dict[str, Any]:
    """Give what an entry says of itself alone."""
    return {name: entry[name] for name in ("kind", "effective_on", "note", "body")} | {"ref": entry.get("reference")}


def credits_in(positions: dict[str, Any]) -> dict[Any, int]:
    held = {each["member"]: each["held"] for each in positions["members"]}
    lent = {(each["lender"], each["borrower"]): each["quantity"] for each in positions["open_loans"]}
    return {"stock": positions["stock"], **held, **lent}


def test_looking_tells_what_recording_then_does(service: Served) -> None:
    chance = random.Random(SEED)  # noqa: S311 - repeatable, not secret
    recorded = refused = 0
    for _ in range(TURNS):
        before = service.send("GET", "/positions").json()
        commands = [made_up(chance, before["number"]) for _ in range(chance.choice((1, 1, 2, 3)))]

        looked = look(service, *commands)
        done = service.send("POST", "/batches", {"commands": commands})

        if done.status_code == 201:
            recorded += 1
            told, entries = looked.json(), done.json()["entries"]
            assert 200 == looked.status_code, told
            assert list(map(without_place, entries)) == list(map(without_place, told["entries"]))
            assert_changes(told, before, service.send("GET", "/positions").json())
        else:
            refused += 1
            assert (done.status_code, done.json()) == (looked.status_code, looked.json())
    assert recorded > 10
    assert refused > 10


def assert_changes(told: dict[str, Any], before: dict[str, Any], after: dict[str, Any]) -> None:
    was, now = credits_in(before), credits_in(after)
    said = {"stock": told["stock"]} | {each["member"]: each for each in told["held"]}
    said |= {(each["lender"], each["borrower"]): each for each in told["open_loans"]}
    changed = {place for place in {*was, *now} if was.get(place, 0) != now.get(place, 0)}

    assert before["number"] == told["rests_on"]
    assert changed | {"stock"} == said.keys()
    for place, each in said.items():
        assert (was.get(place, 0), now.get(place, 0)) == (each["before"], each["after"])


def rows(connection: Connection) -> dict[str, int]:
    tables = metadata.sorted_tables
    return {table.name: connection.scalar(select(func.count()).select_from(table)) or 0 for table in tables}


def test_looking_writes_nothing(service: Served) -> None:
    buy = {"kind": "purchase", "paid_by": "ALDER", "quantity": 5, "amount": "35.00", **ON}
    with reading(service.office.engine, POOL) as connection:
        before = rows(connection)

    assert [200, 409, 404] == [
        look(service, buy).status_code,
        look(service, {"kind": "draw", "member": "ALDER", "quantity": 1, **ON}).status_code,
        look(service, {"kind": "reversal", "entry": 9}).status_code,
    ]
    with reading(service.office.engine, POOL) as connection:
        assert before == rows(connection)


def test_what_is_recorded_already_under_its_reference_has_its_number(service: Served) -> None:
    buy = {"kind": "purchase", "paid_by": "ALDER", "quantity": 5, "amount": "35.00", "reference": "N-1", **ON}
    service.send("POST", "/batches", {"commands": [buy]})

    told = look(service, buy, {**buy, "reference": "N-2"}).json()

    assert [1, None] == [entry.get("number") for entry in told["entries"]]
    assert (5, 10) == (told["stock"]["before"], told["stock"]["after"])


@pytest.mark.parametrize(("key", "status"), [("keeper", 200), ("clerk", 403), ("reader", 403)])
def test_only_who_may_record_may_look(service: Served, key: str, status: int) -> None:
    charge = {"kind": "charge", "from_member": "BIRCH", "to_member": "CEDAR", "amount": "1.00", "reason": "courier"}

    assert status == look(service, {**charge, **ON}, key=key).status_code
