"""The four roles: the whole matrix of rights, written a second time by hand, and what a clerk may record."""

from datetime import date

import pytest

from pool_api.domain import access
from pool_api.domain.access import Caller, Membership, Reach, Right, Role
from pool_api.domain.entries import (
    Acknowledgement,
    Body,
    Charge,
    Close,
    Command,
    Direction,
    Draw,
    Entry,
    Loan,
    Opening,
    Outside,
    Payment,
    Purchase,
    Relocation,
    Reopening,
    Return,
    Reversal,
    SignOff,
    Use,
    Verdict,
    WriteOff,
    WriteOffReason,
)
from pool_api.domain.errors import ConfirmationRequired, NotFound, NotPermitted
from pool_api.domain.hashing import GENESIS, chained

KEEPER = Caller(role=Role.KEEPER, pool="riverside", member=None, key_id="k1", name="the book")
CLERK = Caller(role=Role.CLERK, pool="riverside", member="ALDER", key_id="k2", name="the counter")
READER = Caller(role=Role.READER, pool="riverside", member=None, key_id="k3", name="the accountant")
OPERATOR = Caller(role=Role.OPERATOR, pool=None, member=None, key_id="k4", name="the server")
PERSON = Caller(
    role=Role.PERSON,
    pool=None,
    member=None,
    key_id="p1",
    name="Ines Walder",
    session="s1",
    fresh_until="2026-11-10T12:15:00.000000Z",
    memberships=(
        Membership(pool="hillside", role=Role.CLERK, member="FIR"),
        Membership(pool="riverside", role=Role.KEEPER),
    ),
)
CALLERS = {"K": KEEPER, "C": CLERK, "R": READER, "O": OPERATOR, "P": PERSON}

# A letter is a role with the whole pool, a small one with its own member or pool only.
MATRIX = {
    Right.LIST_POOLS: "Okcrp",
    Right.MAKE_POOL: "O",
    Right.MANAGE_KEYS: "OK",
    Right.READ_PEOPLE: "OKCR",
    Right.MANAGE_PEOPLE: "OK",
    Right.READ_ACCESS: "OK",
    Right.READ_OWN_ACCESS: "Okcrp",
    Right.READ_TERMS: "OKCR",
    Right.CHANGE_TERMS: "K",
    Right.READ_MEMBERS: "KCR",
    Right.CHANGE_MEMBERS: "K",
    Right.READ_POSITIONS: "KCR",
    Right.READ_ENTRIES: "KcR",
    Right.READ_SHEET: "KR",
    Right.READ_STATEMENT: "KcR",
    Right.READ_STATEMENTS: "K",
    Right.READ_COST: "KcR",
    Right.READ_RECORDS: "KR",
    Right.IMPORT_RECORDS: "K",
    Right.RECONCILE: "K",
    Right.CLOSE: "K",
    Right.VERIFY: "KR",
    Right.READ_HANDED: "KcR",
    Right.ANSWER_HANDED: "Kc",
    Right.KEEP_BANK_ACCOUNT: "Kc",
    Right.READ_PAYMENT_FILE: "Kc",
    Right.READ_POSTINGS: "KcR",
    Right.CHANGE_ACCOUNT_CODES: "Kc",
    Right.READ_LADDER: "KCR",
    Right.CHANGE_LADDER: "K",
    Right.READ_PLANS: "KCR",
    Right.PLAN_ORDERS: "K",
    Right.READ_ROUNDS: "KCR",
    Right.RUN_ROUNDS: "K",
    Right.COMMIT: "Kc",
    Right.READ_REQUESTS: "KcR",
    Right.ASK_FOR_CREDITS: "Kc",
    Right.TAKE_UP_REQUESTS: "Kc",
    Right.READ_CATALOGUE: "KCR",
    Right.CHANGE_CATALOGUE: "K",
    Right.READ_NEEDS: "KcR",
    Right.STATE_NEEDS: "Kc",
}


def test_every_right_stands_in_the_matrix() -> None:
    assert set(Right) == set(MATRIX)
    assert set(Right) == set(access.RIGHTS)


@pytest.mark.parametrize("letter", "KCROP")
@pytest.mark.parametrize("right", Right)
def test_a_right_reaches_as_far_as_the_matrix_says(right: Right, letter: str) -> None:
    caller = CALLERS[letter]
    if letter in MATRIX[right]:
        assert access.reach(caller, right) is Reach.ALL
        access.permit(caller, right, member="BIRCH")
    elif letter.lower() in MATRIX[right]:
        assert access.reach(caller, right) is Reach.OWN
    else:
        with pytest.raises(NotPermitted) as refused:
            access.permit(caller, right)
        assert refused.value.fields() == {"role": caller.role, "reason": f"it may not {right}"}


@pytest.mark.parametrize("right", [right for right, letters in MATRIX.items() if "Kc" in letters])
def test_a_clerk_reads_its_own_members_page_and_no_other(right: Right) -> None:
    access.permit(CLERK, right, member="ALDER")

    with pytest.raises(NotPermitted, match="for ALDER only, not for BIRCH"):
        access.permit(CLERK, right, member="BIRCH")


def test_a_person_is_in_each_pool_what_its_membership_says_and_nobody_elsewhere() -> None:
    own, other = access.within(PERSON, "riverside"), access.within(PERSON, "hillside")

    assert (Role.KEEPER, "riverside", None) == (own.role, own.pool, own.member)
    assert (Role.CLERK, "hillside", "FIR") == (other.role, other.pool, other.member)
    assert ["hillside", "riverside"] == access.own_pools(PERSON)
    assert {"p1"} == {own.key_id, other.key_id, PERSON.key_id}
    with pytest.raises(NotFound):
        access.within(PERSON, "lakeside")
    with pytest.raises(NotFound):
        access.permit_into(other, "riverside", Right.READ_TERMS)


def test_a_key_is_in_its_pool_what_it_is_and_nobody_elsewhere() -> None:
    assert KEEPER is access.within(KEEPER, "riverside")
    assert OPERATOR is access.within(OPERATOR, "lakeside")
    with pytest.raises(NotFound):
        access.within(KEEPER, "hillside")


def test_a_session_does_what_asks_for_the_password_only_for_a_while_after_it() -> None:
    access.check_fresh(PERSON, "2026-11-10T12:14:59.999999Z", minutes=15)
    access.check_fresh(KEEPER, "2026-11-10T12:15:00.000000Z", minutes=15)

    with pytest.raises(ConfirmationRequired, match="15 minutes"):
        access.check_fresh(PERSON, "2026-11-10T12:15:00.000000Z", minutes=15)


def test_only_people_have_sessions() -> None:
    assert "s1" == access.check_person(PERSON)
    with pytest.raises(NotPermitted, match="signed in"):
        access.check_person(KEEPER)


def test_only_a_clerks_reading_of_entries_is_narrowed() -> None:
    assert access.own_side(CLERK, Right.READ_ENTRIES) == "ALDER"
    assert access.own_side(KEEPER, Right.READ_ENTRIES) is None
    assert access.own_side(READER, Right.READ_ENTRIES) is None
    with pytest.raises(NotPermitted):
        access.own_side(OPERATOR, Right.READ_ENTRIES)


def test_a_clerk_sees_entries_that_its_member_is_a_side_of() -> None:
    assert access.sees_entry(CLERK, ("BIRCH", "ALDER"))
    assert not access.sees_entry(CLERK, ("BIRCH", "CEDAR"))
    assert not access.sees_entry(CLERK, ())
    assert access.sees_entry(KEEPER, ())
    assert access.sees_entry(READER, ("BIRCH",))
    assert not access.sees_entry(OPERATOR, ("BIRCH",))


def test_another_pool_does_not_exist() -> None:
    for caller in (KEEPER, CLERK, READER):
        assert access.sees_pool(caller, "riverside")
        assert not access.sees_pool(caller, "hillside")
        with pytest.raises(NotFound) as refused:
            access.permit_into(caller, "hillside", Right.READ_TERMS)
        assert str(refused.value) == "There is no pool hillside."
    assert access.sees_pool(OPERATOR, "hillside")


_COUNTS = dict.fromkeys(("matched", "suggested", "open", "broken", "dismissed"), 0)
SIGN_OFF = SignOff(month="2026-11", digest="0" * 64, accounts=(), accepted_open=False, **_COUNTS)


def own_and_other(letter: str) -> tuple[Body, ...]:
    """Bodies in which ALDER acts, is the passive side, or doesn't appear, as `letter` says: A, P or N."""
    return {
        "A": (
            Purchase(into="stock", paid_by="ALDER", quantity=5, amount=100),
            Purchase(into="ALDER", paid_by="ALDER", quantity=5, amount=100),
            Draw(member="ALDER", quantity=5),
            Loan(lender="ALDER", borrower="BIRCH", quantity=5),
            Loan(lender="BIRCH", borrower="ALDER", quantity=5),
            Return(borrower="ALDER", lender="BIRCH", quantity=5),
            Return(borrower="BIRCH", lender="ALDER", quantity=5),
            Use(member="ALDER", quantity=5, item="CAL-1", job="J1"),
            WriteOff(holder="ALDER", quantity=5, reason=WriteOffReason.LOST),
            Outside(member="ALDER", direction=Direction.IN, party="a friend", quantity=5, amount=100),
            Charge(from_member="ALDER", to_member="BIRCH", amount=100, reason="postage"),
            Payment(from_member="ALDER", to_member="BIRCH", amount=100),
            Payment(from_member="BIRCH", to_member="ALDER", amount=100),
            Acknowledgement(entry=1, member="ALDER", verdict=Verdict.CONFIRMED),
        ),
        "P": (
            Purchase(into="BIRCH", paid_by="ALDER", quantity=5, amount=100),
            Purchase(into="ALDER", paid_by="BIRCH", quantity=5, amount=100),
            Charge(from_member="BIRCH", to_member="ALDER", amount=100, reason="postage"),
            Relocation(from_member="ALDER", to_member="BIRCH", quantity=5),
        ),
        "N": (
            Opening(members=(), stock_quantity=0, stock_cost=0),
            Purchase(into="stock", paid_by="BIRCH", quantity=5, amount=100),
            Draw(member="BIRCH", quantity=5),
            Loan(lender="BIRCH", borrower="CEDAR", quantity=5),
            Return(borrower="BIRCH", lender="CEDAR", quantity=5),
            Use(member="BIRCH", quantity=5, item="CAL-1", job="J1"),
            WriteOff(holder="BIRCH", quantity=5, reason=WriteOffReason.LOST),
            WriteOff(holder="stock", quantity=5, reason=WriteOffReason.EXPIRED),
            Outside(member="BIRCH", direction=Direction.OUT, party="a friend", quantity=5, amount=100),
            Relocation(from_member="BIRCH", to_member="CEDAR", quantity=5),
            Charge(from_member="BIRCH", to_member="CEDAR", amount=100, reason="postage"),
            Payment(from_member="BIRCH", to_member="CEDAR", amount=100),
            Acknowledgement(entry=1, member="BIRCH", verdict=Verdict.DISPUTED),
            Close(month="2026-11", digest="0" * 64, sheet={}, settlement={}, computed_at=7),
            Reopening(month="2026-11", reason="a purchase was forgotten"),
            SIGN_OFF,
        ),
    }[letter]


@pytest.mark.parametrize("body", own_and_other("A"), ids=repr)
def test_a_clerk_records_what_its_member_acts_in(body: Body) -> None:
    access.permit_recording(CLERK, body)


@pytest.mark.parametrize("body", own_and_other("P") + own_and_other("N"), ids=repr)
def test_a_clerk_records_nothing_that_another_acts_in(body: Body) -> None:
    with pytest.raises(NotPermitted, match="ALDER is not the side that acts in this"):
        access.permit_recording(CLERK, body)


@pytest.mark.parametrize("body", own_and_other("A") + own_and_other("P") + own_and_other("N"), ids=repr)
def test_a_keeper_records_everything_and_a_reader_and_an_operator_nothing(body: Body) -> None:
    access.permit_recording(KEEPER, body)

    for caller in (READER, OPERATOR):
        with pytest.raises(NotPermitted, match="it records nothing"):
            access.permit_recording(caller, body)


def entry_of(body: Body, recorder: Caller) -> Entry:
    command = Command(body=body, effective_on=date(2026, 11, 3), recorded_by=access.signature(recorder))
    return chained("riverside", 1, GENESIS, command, "2026-11-03T09:00:00.000000Z")


COLLEAGUE = Caller(role=Role.CLERK, pool="riverside", member="ALDER", key_id="k9", name="the phone")
NEIGHBOUR = Caller(role=Role.CLERK, pool="riverside", member="BIRCH", key_id="k8", name="the counter")
ALDERS_LOAN = Loan(lender="BIRCH", borrower="ALDER", quantity=5)


@pytest.mark.parametrize("recorder", [CLERK, COLLEAGUE], ids=["its own key", "a clerk of its own member"])
def test_a_clerk_reverses_what_its_member_recorded_and_is_a_side_of(recorder: Caller) -> None:
    access.permit_recording(CLERK, Reversal(entry=1), target=entry_of(ALDERS_LOAN, recorder))


@pytest.mark.parametrize(
    ("body", "recorder"),
    [
        (ALDERS_LOAN, NEIGHBOUR),
        (ALDERS_LOAN, KEEPER),
        (Draw(member="BIRCH", quantity=5), COLLEAGUE),
        (Draw(member="BIRCH", quantity=5), CLERK),
        (Reversal(entry=1, quantity=5), CLERK),
    ],
    ids=["recorded by the other side", "recorded by the keeper", "not a side", "own key, not a side", "a reversal"],
)
def test_a_clerk_reverses_nothing_else(body: Body, recorder: Caller) -> None:
    with pytest.raises(NotPermitted, match="may reverse only entries of ALDER"):
        access.permit_recording(CLERK, Reversal(entry=1), target=entry_of(body, recorder))


def test_a_clerk_is_told_the_same_of_an_entry_that_is_not_there() -> None:
    with pytest.raises(NotPermitted, match="may reverse only entries of ALDER"):
        access.permit_recording(CLERK, Reversal(entry=99), target=None)


def test_a_signature_says_role_member_and_the_public_part_of_the_key() -> None:
    assert access.signature(CLERK) == "clerk/ALDER/k2"
    assert access.signature(KEEPER) == "keeper/-/k1"
