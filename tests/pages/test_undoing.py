"""Undoing on the pages: the day that is offered and why, the effect before, once, and as it was foreseen."""

import re
from datetime import date
from decimal import Decimal

import pytest
from pool_client.models.entries import (
    Charge,
    Command,
    Direction,
    Draw,
    Loan,
    Outside,
    Payment,
    Purchase,
    Recordable,
    Return,
    Reversal,
    Use,
    WriteOff,
    WriteOffReason,
)

from tests.databases import SqliteTemplate
from tests.pages.browsing import Browser, filled_in, text_of
from tests.served import POOL, Served

HOME = f"/book/{POOL}"
DAY, TODAY = date(2026, 11, 3), date(2026, 11, 10)
SETTING = (
    Purchase(paid_by="ALDER", quantity=500, amount=Decimal("3450.00")),
    Draw(member="ALDER", quantity=120),
    Loan(lender="ALDER", borrower="BIRCH", quantity=30),
)
BODIES: tuple[Recordable, ...] = (
    Purchase(paid_by="BIRCH", into="CEDAR", quantity=10, amount=Decimal("70.00")),
    Draw(member="CEDAR", quantity=7),
    Loan(lender="ALDER", borrower="CEDAR", quantity=5),
    Loan(lender="ALDER", borrower="CEDAR", quantity=5, unit_price=Decimal("7.00")),
    Return(borrower="BIRCH", lender="ALDER", quantity=4),
    Use(member="ALDER", quantity=9, item="CAL-M", job="J-1"),
    WriteOff(holder="stock", quantity=3, reason=WriteOffReason.LOST),
    Outside(member="ALDER", direction=Direction.IN, party="nv-77", quantity=6, amount=Decimal("42.00")),
    Outside(member="ALDER", direction=Direction.OUT, party="nv-77", quantity=6, amount=Decimal("42.00")),
    Charge(from_member="ALDER", to_member="BIRCH", amount=Decimal("12.50"), reason="postage"),
    Payment(from_member="BIRCH", to_member="ALDER", amount=Decimal("20.00")),
)


@pytest.fixture
def template(sqlite_template: SqliteTemplate) -> SqliteTemplate:
    """One database will do: pages know none."""
    return sqlite_template


@pytest.fixture
def stocked(service: Served) -> Served:
    record(service, *SETTING)
    return service


def record(service: Served, *bodies: Recordable, on: date = DAY) -> None:
    service.book().record_all([Command(body=body, effective_on=on) for body in bodies])


def undo(browser: Browser, number: int, **fields: str) -> Browser:
    """Have shown what undoing an entry would change."""
    return browser.go(f"{HOME}/entries/{number}/undo").send(fields, button="effect")


def close(service: Served, month: str) -> None:
    seen = service.book().settlement(month=month).digest
    service.book().close(month=month, digest=seen, accept_differences=True)


def standing(service: Served) -> dict[str, str]:
    """Give what everybody holds, is due, and has of others, as the effects say it."""
    found = service.book().positions()
    held = {"The stock will hold": f"{found.stock:,}"}
    held |= {f"{each.member} will hold": f"{each.held:,}" for each in found.members}
    held |= {f"{each.member}'s due of the month becomes": f"{each.due:,}" for each in found.members}
    return held


def owed(service: Served) -> dict[tuple[str, str], int]:
    return {(each.borrower, each.lender): each.quantity for each in service.book().positions().open_loans}


OWED = re.compile(r"(\w+) will have (\d+) credits? of (\w+)'s to make good")
FORESEEN = re.compile(r"((?:The stock|\w+) will hold|\w+'s due of the month becomes) (-?[\d,.]*\d)")


@pytest.mark.parametrize("body", BODIES, ids=[f"{nth} {each.kind}" for nth, each in enumerate(BODIES)])
def test_what_is_foreseen_comes_true(stocked: Served, keeper: Browser, body: Recordable) -> None:
    before, open_before = standing(stocked), owed(stocked)
    record(stocked, body)
    lent = owed(stocked) != open_before
    moved = {what for what, now in standing(stocked).items() if now != before[what]}
    effect = text_of(undo(keeper, 4).one("#effect"))
    foreseen = dict(FORESEEN.findall(effect))
    keeper.send({}, button="record")

    assert "Recorded as entry 5." in keeper.says
    assert (before, open_before) == (standing(stocked), owed(stocked))
    told = [(borrower, lender, int(quantity)) for borrower, quantity, lender in OWED.findall(effect)]
    assert lent == bool(told)
    assert [quantity for *_, quantity in told] == [open_before.get((by, of), 0) for by, of, _ in told]
    assert foreseen.items() <= before.items()
    # a purchase for another moves both dues, which are told as one outlay; a charge or payment moves nothing else
    assert foreseen.keys() == {what for what in moved if "due" not in what or body.kind in {"charge", "payment"}}


def test_its_own_day_is_offered_while_its_month_is_open(stocked: Served, keeper: Browser) -> None:
    undo(keeper, 2, quantity="20")

    assert DAY.isoformat() == filled_in(keeper.one("main form"))["on"]
    assert "It counts in November 2026, whose figures become what they would be without it." in keeper.says
    assert 3 == stocked.book().positions().number

    keeper.send({}, button="record")
    assert (DAY, Reversal(entry=2, quantity=20)) == told(stocked, 4)


def told(service: Served, number: int) -> tuple[date, object]:
    entry = service.book().entry(number=number).entry
    return entry.effective_on, entry.body


def test_another_day_may_be_chosen_and_counts_elsewhere(service: Served, keeper: Browser) -> None:
    record(service, *SETTING, on=date(2026, 10, 20))
    undo(keeper, 3, on="2026-11-05")

    assert "It counts in November 2026, at what it came to in October 2026;" in keeper.says
    keeper.send({}, button="record")
    assert (date(2026, 11, 5), Reversal(entry=3, quantity=30)) == told(service, 4)


def test_an_entry_of_a_closed_month_is_undone_today_and_its_month_stays(service: Served, keeper: Browser) -> None:
    record(service, *SETTING, on=date(2026, 9, 20))
    close(service, "2026-09")
    keeper.go(f"{HOME}/entries/2/undo")

    assert TODAY.isoformat() == filled_in(keeper.one("main form"))["on"]
    assert "September 2026 is closed and stays as it was settled, so it is undone today." in keeper.says

    keeper.send({"quantity": "20"}, button="effect").send({}, button="record")
    assert (TODAY, Reversal(entry=2, quantity=20)) == told(service, 5)

    undo(keeper, 2, quantity="1", on="2026-09-20")
    assert "This can't be undone: September 2026 is closed: choose a later day." in keeper.says
    keeper.send({"step": "record"})
    assert 5 == service.book().positions().number


def test_nothing_is_undone_before_its_effect_was_seen(stocked: Served, keeper: Browser) -> None:
    undo(keeper, 2, quantity="20").send({"quantity": "30"}, button="record")
    assert "ALDER will hold 60 (now 90)." in keeper.says
    assert 3 == stocked.book().positions().number

    keeper.send({"on": "2026-11-04"}, button="record")
    assert 3 == stocked.book().positions().number
    keeper.send({}, button="record")
    assert (date(2026, 11, 4), Reversal(entry=2, quantity=30)) == told(stocked, 4)


def test_sent_twice_it_is_undone_once(stocked: Served, keeper: Browser) -> None:
    shown = undo(keeper, 2, quantity="20").answer
    keeper.send({}, button="record")
    keeper.answer = shown
    keeper.send({}, button="record")

    assert "Recorded as entry 4." in keeper.says
    assert 4 == stocked.book().positions().number


def test_what_is_no_longer_held_can_t_be_undone(stocked: Served, keeper: Browser) -> None:
    record(stocked, Use(member="BIRCH", quantity=25, item="CAL-M", job="J-1"))
    undo(keeper, 3)

    assert "This can't be undone: BIRCH holds 5 credits, which is 25 too few." in keeper.says
    assert not keeper.page.css('[value="record"]')


@pytest.mark.parametrize(
    ("said", "status", "words"),
    [
        ({"on": ""}, 422, "This is needed."),
        ({"on": "soon"}, 422, "A day, written as"),
        ({"quantity": "0"}, 422, "A whole number of credits"),
        ({"quantity": "121"}, 409, "Not recorded."),
        ({"on": "2026-11-02"}, 200, "This day comes before the entry's own."),
        ({"on": "2026-12-24"}, 409, "Not recorded."),
    ],
)
def test_what_can_t_be_is_told_and_stays_filled_in(
    service: Served, keeper: Browser, said: dict[str, str], status: int, words: str
) -> None:
    record(service, SETTING[0], Draw(member="ALDER", quantity=120), Draw(member="ALDER", quantity=120))
    undo(keeper, 2, **said)
    if status == 409:
        keeper.send({}, button="record")

    assert status == keeper.answer.status_code
    assert words in keeper.says
    assert said.items() <= filled_in(keeper.one("main form")).items()
    assert 3 == service.book().positions().number
