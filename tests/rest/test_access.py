"""Who may call which operation, in its own pool and in another's: a matrix in which every operation has a row."""

from typing import Any

import pytest

from tests.clients.document import DOCUMENT
from tests.served import POOL, Served, set_up

OPERATIONS = {
    operation["operationId"]: (method.upper(), path)
    for path, methods in DOCUMENT["paths"].items()
    for method, operation in methods.items()
}
OPEN = {name for name, (_, path) in OPERATIONS.items() if "{pool}" not in path and path != "/v1/pools"}

_DRAW = {"member": "ALDER", "quantity": 1}
_OTHERS_DRAW = {"member": "BIRCH", "quantity": 1}
_CHARGE = {"from_member": "ALDER", "to_member": "BIRCH", "amount": "1.00", "reason": "courier"}
_MONTH = {"month": "2026-09"}
_ROUND = {"round_id": "00000001"}
_REQUEST = {"request_id": "00000001"}
_LISTED = {"valid_from": "2026-09-01"}
_NEED = {"member": "ALDER", "month": "2026-12"}
_TERMS = {
    "name": "Riverside",
    "vendor": "Norvane Tuning Systems",
    "currency": "EUR",
    "time_zone": "Europe/Vienna",
    "began_on": "2026-09-01",
}

# What each operation is called with, and which roles may: o operator, k keeper, c clerk of ALDER, r reader.
MATRIX: dict[str, tuple[str, dict[str, str], Any]] = {
    "list_pools": ("okcr", {}, None),
    "read_pool": ("okcr", {}, None),
    "put_pool": ("k", {"if-match": '"99"'}, _TERMS),
    "list_policies": ("okcr", {}, None),
    "read_policy": ("okcr", {"month": "2026-09"}, None),
    "put_policy": ("k", {"month": "2026-12"}, {"loans_at_close": "carry"}),
    "list_members": ("kcr", {}, None),
    "read_member": ("kcr", {"member": "ALDER"}, None),
    "put_member": ("k", {"member": "ELM"}, {"name": "Elm", "joined_on": "2026-09-01"}),
    "list_keys": ("ok", {}, None),
    "make_key": ("ok", {}, {"name": "more", "role": "reader"}),
    "read_key": ("ok", {"key_id": "0" * 12}, None),
    "end_key": ("ok", {"key_id": "0" * 12}, None),
    "list_people": ("okcr", {}, None),
    "read_person": ("okcr", {"person": "p000000000000"}, None),
    "put_person": ("ok", {"person": "p000000000000", "if-match": '"1"'}, {"role": "reader"}),
    "take_person_out": ("ok", {"person": "p000000000000"}, None),
    "list_invitations": ("ok", {}, None),
    "invite": ("ok", {}, {"role": "reader"}),
    "read_invitation": ("ok", {"invitation": "0" * 12}, None),
    "withdraw_invitation": ("ok", {"invitation": "0" * 12}, None),
    "list_access_events": ("ok", {}, None),
    "record_opening": ("k", {}, {"members": [], "effective_on": "2026-09-01"}),
    "record_purchase": ("kc", {}, {"paid_by": "ALDER", "quantity": 1, "amount": "7.00"}),
    "record_draw": ("kc", {}, _DRAW),
    "record_loan": ("kc", {}, {"lender": "ALDER", "borrower": "BIRCH", "quantity": 1}),
    "record_return": ("kc", {}, {"lender": "BIRCH", "borrower": "ALDER", "quantity": 1}),
    "record_use": ("kc", {}, {**_DRAW, "item": "CAL-S", "job": "J-1"}),
    "record_write_off": ("kc", {}, {"holder": "ALDER", "quantity": 1, "reason": "lost"}),
    "record_outside": (
        "kc", {}, {"member": "ALDER", "direction": "in", "party": "a shop", "quantity": 1, "amount": "1.00"},
    ),
    "record_relocation": ("k", {}, {"from_member": "ALDER", "to_member": "BIRCH", "quantity": 1}),
    "record_charge": ("kc", {}, _CHARGE),
    "record_payment": ("kc", {}, {"from_member": "ALDER", "to_member": "BIRCH", "amount": "1.00"}),
    "record_reversal": ("k", {}, {"entry": 1}),
    "record_acknowledgement": ("kc", {}, {"entry": 1, "member": "ALDER", "verdict": "confirmed"}),
    "record_batch": ("kc", {}, {"commands": [{"kind": "charge", **_CHARGE}]}),
    "preview_batch": ("kc", {}, {"commands": [{"kind": "charge", **_CHARGE}]}),
    "list_entries": ("kcr", {}, None),
    "read_entry": ("kcr", {"number": "1"}, None),
    "verify_journal": ("kr", {}, None),
    "read_positions": ("kcr", {}, None),
    "read_member_cost": ("kcr", {"member": "ALDER"}, None),
    "read_job": ("kcr", {"?job": "J-1"}, None),
    "list_settlement_payments": ("kcr", {}, None),
    "list_months": ("kr", {}, None),
    "read_month": ("kr", _MONTH, None),
    "list_entry_costs": ("kr", _MONTH, None),
    "read_settlement": ("kr", _MONTH, None),
    "close_month": ("k", _MONTH, {"digest": "0" * 64}),
    "reopen_month": ("k", _MONTH, {"reason": "an invoice came late"}),
    "read_report": ("kr", _MONTH, None),
    "read_statement": ("kcr", {**_MONTH, "member": "ALDER"}, None),
    "read_statements": ("k", {**_MONTH, "?form": "csv"}, None),
    "list_figures": ("kcr", _MONTH, None),
    "read_explanation": ("kcr", {**_MONTH, "figure": "members.ALDER.due.total"}, None),
    "list_operands": ("kcr", {**_MONTH, "figure": "members.ALDER.due.total"}, None),
    "compare_month": ("kr", _MONTH, None),
    "read_bank_account": ("kc", {"member": "ALDER"}, None),
    "put_bank_account": ("kc", {"member": "ALDER"}, {"holder": "Alder", "iban": "AT809990000000000001"}),
    "erase_bank_account": ("kc", {"member": "ALDER", "if-match": '"1"'}, None),
    "read_payment_file": ("kc", {**_MONTH, "member": "ALDER"}, None),
    "read_account_codes": ("kcr", {"holder": "ALDER"}, None),
    "put_account_codes": ("kc", {"holder": "ALDER"}, {"credits": "1400"}),
    "read_postings": ("kcr", {**_MONTH, "holder": "ALDER"}, None),
    "list_price_ladders": ("kcr", {}, None),
    "read_price_ladder": ("kcr", {"valid_from": "2026-09-01"}, None),
    "put_price_ladder": ("k", {"valid_from": "2026-09-01"}, {"tiers": [{"from_credits": 1, "unit_price": "7.00"}]}),
    "withdraw_price_ladder": ("k", {"valid_from": "2026-09-02", "if-match": '"99"'}, None),
    "list_price_ladder_versions": ("kcr", {"valid_from": "2026-09-01"}, None),
    "propose_price_ladders": ("k", {"?valid_from": "2026-09-01"}, "from_credits,unit_price\n1,7.00\n"),
    "read_order_price": ("kcr", {"?quantity": "48"}, None),
    "list_purchase_checks": ("kcr", _MONTH, None),
    "read_needs": ("kcr", {}, None),
    "read_need": ("kcr", _NEED, None),
    "put_need": ("kc", _NEED, {"quantity": 60, "reason": "a contract"}),
    "withdraw_need": ("kc", {**_NEED, "if-match": '"99"'}, None),
    "list_need_versions": ("kcr", _NEED, None),
    "make_order_plan": ("k", {}, {"needs": [{"member": "ALDER", "credits": [9]}]}),
    "list_order_plans": ("kcr", {}, None),
    "read_order_plan": ("kcr", {"plan_id": "00000001"}, None),
    "list_plan_savings": ("kcr", {"plan_id": "00000001"}, None),
    "open_order_round": ("k", {}, {"deadline": "2026-11-20T12:00:00Z"}),
    "list_order_rounds": ("kcr", {}, None),
    "read_order_round": ("kcr", _ROUND, None),
    "read_commitment": ("kcr", {**_ROUND, "member": "ALDER"}, None),
    "put_commitment": ("kc", {**_ROUND, "member": "ALDER"}, {"quantity": 12}),
    "extend_order_round": ("k", _ROUND, {"deadline": "2026-11-21T12:00:00Z", "reason": "two are away"}),
    "call_off_order_round": ("k", {"round_id": "00000002"}, {"reason": "prices fall"}),
    "close_order_round": ("k", _ROUND, {"seen": 1, "paid_by": "ALDER"}),
    "ask_for_credits": ("kc", {}, {"member": "ALDER", "quantity": 24, "needed_by": "2026-11-20T12:00:00Z"}),
    "list_credit_requests": ("kcr", {}, None),
    "read_credit_request": ("kcr", _REQUEST, None),
    "take_up_credit_request": ("kc", _REQUEST, {"lender": "ALDER"}),
    "withdraw_credit_request": ("kc", _REQUEST, {}),
    "list_catalogues": ("kcr", {}, None),
    "read_catalogue": ("kcr", _LISTED, None),
    "put_catalogue": ("k", _LISTED, {"items": [{"code": "CAL-S", "name": "Calibration", "credits": 12}]}),
    "withdraw_catalogue": ("k", {**_LISTED, "if-match": '"99"'}, None),
    "list_catalogue_versions": ("kcr", _LISTED, None),
    "read_catalogue_version": ("kcr", {**_LISTED, "version": "1"}, None),
    "compare_catalogues": ("kcr", _LISTED, None),
    "propose_catalogue": ("k", {}, "Article,Credits\nCAL-S,12\n"),
    "list_catalogue_items": ("kcr", {}, None),
    "list_catalogue_profiles": ("kcr", {}, None),
    "read_catalogue_profile": ("kcr", {"name": "norvane"}, None),
    "put_catalogue_profile": ("k", {"name": "norvane"}, {"code": "Article", "credits": "Credits"}),
    "read_earnings": ("kcr", {"?from_month": "2026-09"}, None),
    "list_use_checks": ("kcr", _MONTH, None),
    "read_savings": ("kcr", {"?from_month": "2026-09"}, None),
    "quote_job": ("kcr", {}, {"member": "ALDER", "credits": 4}),
    "list_column_profiles": ("kr", {}, None),
    "read_column_profile": ("kr", {"name": "norvane"}, None),
    "put_column_profile": (
        "k", {"name": "norvane"}, {"day": "Booked", "counterparty": "Other", "quantity": "Credits"},
    ),
    "propose_column_profile": ("k", {"name": "norvane"}, "Booked,Credits\n2026-09-01,4\n"),
    "import_vendor_record": ("k", {"?member": "ALDER", "?profile": "norvane"}, "Booked,Credits\n2026-09-01,4\n"),
    "list_vendor_records": ("kr", {}, None),
    "read_vendor_record": ("kr", {"import_id": "00000001"}, None),
    "list_vendor_record_changes": ("kr", {"import_id": "00000001"}, None),
    "read_coverage": ("kr", {}, None),
    "read_reconciliation": ("kr", _MONTH, None),
    "read_proof": ("kr", _MONTH, None),
    "preview_decisions": ("k", _MONTH, {"kind": "quantity", "verdict": "accepted", "reason": "as shown"}),
    "decide_all_differences": ("k", _MONTH, {"kind": "quantity", "verdict": "accepted", "reason": "as shown"}),
    "confirm_matches": ("k", _MONTH, {"all_suggested": True}),
    "take_match_back": ("k", _MONTH, {"match": "0" * 64, "word": "another loan"}),
    "hand_difference": ("k", _MONTH, {"difference": "0" * 64, "member": "ALDER"}),
    "list_handed_differences": ("kcr", {}, None),
    "answer_difference": ("kc", _MONTH, {"difference": "0" * 64, "answer": "other"}),
    "sign_off_reconciliation": ("k", _MONTH, {"digest": "0" * 64}),
    "decide_difference": (
        "k", _MONTH, {"difference": "0" * 64, "verdict": "dismissed", "reason": "nothing to it"},
    ),
}  # fmt: skip

ROLES = {"o": "operator", "k": "keeper", "c": "clerk", "r": "reader"}


def call(served: Served, name: str, key: str | None, *, pool: str = POOL, body: Any = None) -> tuple[int, str]:
    """Call an operation of the matrix and give status and code."""
    method, path = OPERATIONS[name]
    _, given, usual = MATRIX[name]
    places = {part: value for part, value in given.items() if part[0] != "?" and part != "if-match"}
    query = "&".join(f"{part[1:]}={value}" for part, value in given.items() if part[0] == "?")
    address = path.format_map({"pool": pool, **places}) + (f"?{query}" if query else "")
    headers = {"If-Match": given["if-match"]} if "if-match" in given else {}
    said = usual if body is None else body
    if isinstance(said, str):
        headers |= {"Content-Type": "text/csv", "Idempotency-Key": f"matrix-{next(served.numbers):06d}"}
        if key is not None:
            headers["Authorization"] = f"Bearer {served.keys[key]}"
        answer = served.http.request(method, address, content=said.encode(), headers=headers)
    else:
        answer = served.send(method, address, said, key=key, **headers)
    return answer.status_code, answer.json()["code"] if answer.is_error else ""


@pytest.fixture
def two_pools(bare_service: Served) -> Served:
    set_up(bare_service)
    set_up(bare_service, "hillside", prefix="other ")
    for pool, key in ((POOL, "keeper"), ("hillside", "other keeper")):
        bare_service.send("POST", f"/v1/pools/{pool}/purchases", MATRIX["record_purchase"][2], key=key)
    return bare_service


def test_every_operation_has_a_row() -> None:
    assert set(OPERATIONS) - OPEN == set(MATRIX)


def test_a_role_may_call_exactly_what_its_row_says(two_pools: Served) -> None:
    wrong = []
    for name, (roles, _, _) in MATRIX.items():
        for letter, role in ROLES.items():
            status, code = call(two_pools, name, role)
            if (code != "not-permitted") != (letter in roles) or status in {401, 500}:
                wrong.append((name, role, status, code))

    assert [] == wrong


def test_without_a_key_or_with_an_unknown_one_nothing_is_told(two_pools: Served) -> None:
    two_pools.keys["unknown"] = "cp_" + "f" * 12 + "_" + "0" * 40

    answers = {(name, key): call(two_pools, name, key) for name in MATRIX for key in (None, "unknown")}

    assert {(401, "unauthenticated")} == set(answers.values())


@pytest.mark.parametrize("role", ["keeper", "clerk", "reader"])
def test_another_pool_answers_as_if_it_did_not_exist(two_pools: Served, role: str) -> None:
    wrong = []
    for name in MATRIX:
        if "{pool}" not in OPERATIONS[name][1]:
            continue
        other = call(two_pools, name, role, pool="hillside")
        none = call(two_pools, name, role, pool="nowhere")
        if other != (404, "not-found") or none != other:
            wrong.append((name, other, none))

    assert [] == wrong


OTHERS: dict[str, Any] = {
    "record_draw": _OTHERS_DRAW,
    "record_use": {**_OTHERS_DRAW, "item": "CAL-S", "job": "J-1"},
    "record_purchase": {"paid_by": "BIRCH", "quantity": 1, "amount": "7.00"},
    "record_loan": {"lender": "CEDAR", "borrower": "BIRCH", "quantity": 1},
    "record_return": {"lender": "CEDAR", "borrower": "BIRCH", "quantity": 1},
    "record_write_off": {"holder": "stock", "quantity": 1, "reason": "lost"},
    "record_outside": {"member": "BIRCH", "direction": "in", "party": "a shop", "quantity": 1, "amount": "1.00"},
    "record_charge": {**_CHARGE, "from_member": "BIRCH", "to_member": "ALDER"},
    "record_payment": {"from_member": "CEDAR", "to_member": "BIRCH", "amount": "1.00"},
    "record_acknowledgement": {"entry": 1, "member": "BIRCH", "verdict": "confirmed"},
    "record_batch": {"commands": [{"kind": "charge", **_CHARGE}, {"kind": "draw", **_OTHERS_DRAW}]},
    "preview_batch": {"commands": [{"kind": "draw", **_OTHERS_DRAW}]},
}


@pytest.mark.parametrize("name", OTHERS)
def test_a_clerk_records_nothing_for_another_member(two_pools: Served, name: str) -> None:
    before = two_pools.book().positions().number

    assert (403, "not-permitted") == call(two_pools, name, "clerk", body=OTHERS[name])
    assert before == two_pools.book().positions().number


def test_a_clerk_sees_its_entries_and_those_in_which_it_is_the_other_side(two_pools: Served) -> None:
    book = two_pools.book()
    for member in ("ALDER", "BIRCH"):
        two_pools.send("POST", "/purchases", {"into": member, "paid_by": member, "quantity": 9, "amount": "63.00"})
    two_pools.send("POST", "/loans", {"lender": "BIRCH", "borrower": "ALDER", "quantity": 2})
    two_pools.send("POST", "/loans", {"lender": "BIRCH", "borrower": "CEDAR", "quantity": 2})

    seen = [entry.number for entry in two_pools.book("clerk").entries()]

    assert 5 == book.positions().number
    assert [4, 2, 1] == seen
    assert 404 == two_pools.send("GET", "/journal/5", key="clerk").status_code
    assert 200 == two_pools.send("GET", "/journal/4", key="clerk").status_code
    assert 403 == two_pools.send("GET", "/members/BIRCH/cost", key="clerk").status_code
    assert 403 == two_pools.send("GET", "/months/2026-11/statements/BIRCH", key="clerk").status_code


def test_a_clerk_reverses_what_its_member_recorded_and_nothing_else(two_pools: Served) -> None:
    own = two_pools.send("POST", "/charges", _CHARGE, key="clerk").json()["number"]
    keepers = two_pools.send("POST", "/charges", _CHARGE).json()["number"]

    assert 403 == two_pools.send("POST", "/reversals", {"entry": keepers}, key="clerk").status_code
    assert 201 == two_pools.send("POST", "/reversals", {"entry": own}, key="clerk").status_code


def test_an_ended_key_is_worth_nothing_from_the_next_request_on(two_pools: Served) -> None:
    clerk = next(key for key in list(two_pools.book().keys()) if key.role == "clerk")
    assert 201 == two_pools.send("POST", "/charges", _CHARGE, key="clerk").status_code

    two_pools.book().end_key(key_id=clerk.key_id)

    assert 401 == two_pools.send("POST", "/charges", _CHARGE, key="clerk").status_code
    assert 401 == two_pools.send("GET", "/positions", key="clerk").status_code


def test_a_key_that_expires_is_worth_nothing_afterwards(two_pools: Served) -> None:
    made = two_pools.send(
        "POST", "/keys", {"name": "for a day", "role": "reader", "expires_at": "2026-11-11T12:00:00Z"}
    )
    two_pools.keys["brief"] = made.json()["secret"]
    assert 200 == two_pools.send("GET", "/positions", key="brief").status_code

    two_pools.clock.pass_days(1)

    assert 401 == two_pools.send("GET", "/positions", key="brief").status_code
