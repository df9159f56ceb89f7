"""A pool of which every list has more than two rows, and two other pools."""

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from pool_client.models.entries import Command, Draw, Purchase, Recordable, Use

from tests.served import PASSWORD, POOL, Served, join, set_up

CHARGE = {"from_member": "ALDER", "to_member": "BIRCH", "amount": "1.00", "reason": "courier"}
FIRST = "2026-09-01"
PROFILE = {"day": "Booked", "counterparty": "Other", "quantity": "Credits"}
NEED = {"quantity": 60, "reason": "a contract"}
NEEDS = [{"member": member, "credits": [9]} for member in ("ALDER", "BIRCH", "CEDAR")]
LADDER = {"tiers": [{"from_credits": 1, "unit_price": "9.80"}]}
ITEMS: list[dict[str, Any]] = [{"code": code, "name": f"Item {code}", "credits": 9} for code in ("A", "B", "C")]
ROUND = {"deadline": "2026-11-20T12:00:00Z"}
NEEDED = {"member": "ALDER", "quantity": 24, "needed_by": "2026-11-20T12:00:00Z"}
CATALOGUE_PROFILE = {"code": "Code", "credits": "Credits"}

THERE = {
    "{pool}": POOL,
    "{member}": "ALDER",
    "{month}": FIRST[:7],
    "{number}": "1",
    "{figure}": "stock.closing.cost",
    "{valid_from}": FIRST,
    "{import_id}": "00000005",
    "{round_id}": "00000001",
    "{request_id}": "00000001",
    "{plan_id}": "00000001",
}
"""What parts of an address may be, so that there is something long to list."""


def fill(served: Served) -> Served:
    """Fill the lists."""
    set_up(served, "hillside", prefix="other ")
    set_up(served, "lakeside", prefix="third ")
    _import(served)
    bought = Purchase(paid_by="ALDER", quantity=9, amount=Decimal("90.00"))
    used = [Use(member="BIRCH", quantity=1, item=item, job="J-1") for item in "ABC"]
    bodies: list[Recordable] = [*[bought] * 3, *[Draw(member="BIRCH", quantity=2)] * 3, *used]
    served.book().record_all([Command(body=body, effective_on=date(2026, 9, 2)) for body in bodies])
    for code in ("BIRCH", "CEDAR", "DOGWOOD"):
        served.send("POST", "/charges", {**CHARGE, "from_member": code, "to_member": "ALDER", "effective_on": FIRST})
    _hand_over(served)
    digest = served.book().settlement(month=FIRST[:7]).digest
    served.book().close(month=FIRST[:7], digest=digest, accept_differences=True)
    _list(served)
    _sign_in(served)
    return served


def _import(served: Served) -> None:
    """Import three files of different types of column, and two of which the second lacks what the first shows."""
    for name in ("a", "b", "c"):
        served.send("PUT", f"/column-profiles/{name}", PROFILE)
        served.send("POST", "/charges", CHARGE)
        content = b"Booked,Other,Credits\n2026-09-01,nv-birch,-4\n"
        served.book().import_record(content, member="ALDER", profile=name)
    rows = b"".join(b"2026-09-0%d,nv-cedar,-2\n" % day for day in (4, 5, 6))
    for content in (rows, b""):
        served.book().import_record(
            b"Booked,Other,Credits\n" + content,
            member="ALDER",
            profile="a",
            from_day=date(2026, 9, 3),
            to_day=date(2026, 9, 7),
        )


def _hand_over(served: Served) -> None:
    for each in served.send("GET", f"/reconciliations/{FIRST[:7]}").json()["differences"][:3]:
        handed = {"difference": each["key"], "member": "ALDER"}
        assert 201 == served.send("POST", f"/reconciliations/{FIRST[:7]}/handings", handed).status_code


def _sign_in(served: Served) -> None:
    """Let three people join, and the first sign in twice more."""
    for number in range(3):
        join(served, f"Person {number}", f"person {number}")
    for _ in range(2):
        served.client("person 0").sign_in(name="Person 0", password=PASSWORD)


def _list(served: Served) -> None:
    """Enter ladders, catalogues, needs, with versions of the first; profiles, plans, rounds and requests."""
    for what, said in (("price-ladders", LADDER), ("catalogues", {"items": ITEMS})):
        for day in (FIRST, "2026-10-01", "2026-11-01"):
            assert 201 == served.send("PUT", f"/{what}/{day}", said).status_code
        for _ in range(2):
            tag = served.send("GET", f"/{what}/{FIRST}").headers["etag"]
            assert 200 == served.send("PUT", f"/{what}/{FIRST}", said, If_Match=tag).status_code
    now, served.clock.at = served.clock.at, datetime(2026, 9, 10, 12, tzinfo=UTC)
    assert 201 == served.send("PUT", f"/needs/ALDER/{FIRST[:7]}", NEED).status_code
    for version in (1, 2):
        assert 200 == served.send("PUT", f"/needs/ALDER/{FIRST[:7]}", NEED, If_Match=f'"{version}"').status_code
    served.clock.at = now
    for name in ("a", "b", "c"):
        assert 201 == served.send("PUT", f"/catalogue-profiles/{name}", CATALOGUE_PROFILE).status_code
        assert 201 == served.send("POST", "/order-rounds", ROUND).status_code
        assert 201 == served.send("POST", "/credit-requests", NEEDED).status_code
        assert 201 == served.send("POST", "/order-plans", {"needs": NEEDS}).status_code
