"""A comparison with the vendor's record is made once while nothing that it rests on has changed, and anew when it has;
and a close can't name as its sign-off what isn't one."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from pool_client.models.entries import Loan, Use

from pool_api.domain.entries import Close, Command, SignOff
from pool_api.domain.hashing import GENESIS, chained
from pool_api.domain.pool import Pool
from pool_api.domain.values import Currency
from pool_api.services import reconciling
from pool_api.services.ledger import Replay
from tests.rest.record import BOUGHT, LENT, MONTH, found, give, recorded, september
from tests.served import Served


@pytest.fixture
def counted(service: Served, monkeypatch: pytest.MonkeyPatch) -> tuple[Served, list[int]]:
    """A month that has been compared once, and a list that grows with each matching."""
    give(recorded(service), "ALDER", BOUGHT + LENT + "2026-09-12,Unlock,,-3,,77,\n2026-09-13,Unlock,,-4,,73,\n")
    made: list[int] = []
    match: Any = vars(reconciling)["match"]

    def counting(*given: Any, **named: Any) -> Any:
        made.append(1)
        return match(*given, **named)

    monkeypatch.setattr(reconciling, "match", counting)
    september(service)
    assert 1 == len(made)
    made.clear()
    return service, made


def test_what_was_compared_is_not_compared_again(counted: tuple[Served, list[int]]) -> None:
    service, made = counted
    first = september(service)
    service.book().preview_all(month=MONTH, kind="missing_in_journal", verdict="accepted", reason="r")
    service.book().settlement(month=MONTH)

    assert first == september(service)
    assert [] == made


def dismissed(service: Served) -> None:
    service.book().decide(month=MONTH, difference=found(service, 3).key, verdict="dismissed", reason="r")


CHANGES: dict[str, Callable[[Served], object]] = {
    "an entry": lambda service: service.book().record(
        Loan(lender="ALDER", borrower="BIRCH", quantity=1), effective_on=date(2026, 9, 20)
    ),
    "an entry of another month": lambda service: service.book().record(
        Use(member="ALDER", quantity=1, item="CAL-S", job="A-1"), effective_on=date(2026, 11, 9)
    ),
    "an import": lambda service: give(service, "CEDAR", "2026-09-03,Received,nv-alder,20,,20,\n"),
    "a decision": dismissed,
    "a confirmation": lambda service: service.book().confirm(
        month=MONTH, matches=[each.key for each in september(service).matches]
    ),
    "a handing": lambda service: service.book().hand(month=MONTH, difference=found(service, 3).key, member="ALDER"),
    "a member": lambda service: service.send("PUT", "/members/ELM", {"name": "Elm", "joined_on": "2026-09-01"}),
}


@pytest.mark.parametrize("change", CHANGES)
def test_whatever_a_comparison_rests_on_makes_it_anew(counted: tuple[Served, list[int]], change: str) -> None:
    service, made = counted
    CHANGES[change](service)
    assert [] == made

    september(service)

    assert 1 == len(made)


def test_few_comparisons_are_remembered(counted: tuple[Served, list[int]]) -> None:
    service, made = counted
    for month in range(1, reconciling.MOST_REMEMBERED + 1):
        service.book().reconciliation(month=f"2027-{month:02d}")
    made.clear()

    september(service)

    assert 1 == len(made)


def test_a_close_names_a_sign_off_of_its_month_or_none() -> None:
    pool = Pool(
        id="riverside",
        name="Riverside",
        vendor="Norvane Tuning Systems",
        currency=Currency("EUR"),
        time_zone="Europe/Vienna",
        began_on=date(2026, 9, 1),
    )
    body = SignOff(
        month=MONTH,
        digest="d" * 64,
        accounts=(),
        matched=0,
        suggested=0,
        open=0,
        broken=0,
        dismissed=0,
        accepted_open=False,
    )
    close = Close(month=MONTH, computed_at=1, digest="e" * 64, sheet={}, settlement={}, sign_off=1)
    replay, day = Replay(pool), date(2026, 9, 30)
    signed = chained(pool.id, 1, GENESIS, Command(body=body, effective_on=day, recorded_by="k"), "")
    closed = chained(pool.id, 2, signed.hash, Command(body=close, effective_on=day, recorded_by="k"), "")
    replay.add(signed)

    assert not replay.is_unsigned(closed)
    assert not replay.is_unsigned(replace(closed, body=replace(close, sign_off=None)))
    assert replay.is_unsigned(replace(closed, body=replace(close, sign_off=2)))
    assert replay.is_unsigned(replace(closed, body=replace(close, month="2026-10")))
