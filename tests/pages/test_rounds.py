"""Joint orders on the pages: opened, answered with the effect shown, closed as previewed, moved, called off."""

from datetime import timedelta
from decimal import Decimal

import httpx
import pytest
from pool_client.models.buying import Tier
from pool_client.models.entries import Draw, Purchase
from pool_client.models.rounds import RoundState

from tests.databases import SqliteTemplate
from tests.pages.browsing import Browser, text_of
from tests.pages.conftest import signed_in
from tests.served import FIRST_DAY, NOON, POOL, Served

HOME = f"/book/{POOL}"
BUYING = f"{HOME}/buying"
ROUND = "00000001"
COMMITTING, CLOSING = "#committing", "main form[action$='/close']"
STEPS = ((1, "10.00"), (100, "9.00"), (500, "6.90"))


@pytest.fixture
def template(sqlite_template: SqliteTemplate) -> SqliteTemplate:
    """One database will do: pages know none."""
    return sqlite_template


@pytest.fixture
def opened(service: Served) -> Served:
    """A pool with a ladder and an open round."""
    tiers = tuple(Tier(from_credits=quantity, unit_price=Decimal(price)) for quantity, price in STEPS)
    service.book().put_ladder(tiers, valid_from=FIRST_DAY)
    service.book().open_round(deadline=NOON + timedelta(days=2), note="for December")
    return service


def commit(browser: Browser, quantity: str, **said: str) -> Browser:
    browser.send({"quantity": quantity, **said}, form=COMMITTING, button="effect")
    return browser.send({}, form=COMMITTING, button="record")


def state(served: Served) -> RoundState:
    return served.book().round_(round_id=ROUND).state


def test_a_round_is_opened(service: Served, keeper: Browser) -> None:
    keeper.go(BUYING).send({"deadline": "2026-11-13T18:00", "note": "for winter"}, form="#opening")

    assert "It is open." in keeper.says
    # 18:00 in Vienna, an hour ahead of UTC in November
    assert ["2026-11-13T17:00:00+00:00"] == [each.deadline.isoformat() for each in service.book().rounds()]
    assert "for winter" in keeper.go(BUYING).says


@pytest.mark.parametrize("deadline", ["", "tomorrow", "2026-11-09T12:00"])
def test_a_round_needs_a_time_to_come(service: Served, keeper: Browser, deadline: str) -> None:
    keeper.go(BUYING).send({"deadline": deadline}, form="#opening")

    assert 400 <= keeper.answer.status_code < 500
    assert [] == list(service.book().rounds())


def test_a_clerk_answers_from_the_first_page(opened: Served, pages: httpx.Client) -> None:
    clerk = signed_in(opened, pages, "clerk")
    assert "ALDER hasn't answered." in clerk.says
    answer = next(each for each in clerk.page.css("main a") if "Answer for ALDER" in each.text())
    clerk.go(answer.attributes["href"] or "").send({"quantity": "120"}, form=COMMITTING, button="effect")

    assert "The order comes to 120 credits at 9 each, 1,080.00 in all." in clerk.says.replace("9.00 each", "9 each")
    assert "ALDER would pay about 1,080.00." in clerk.says
    assert 0 == opened.book().round_(round_id=ROUND).committed

    clerk.send({}, form=COMMITTING, button="record")

    assert "The answer is on file." in clerk.says
    assert "380 more reach the next break" in clerk.says
    assert [("ALDER", 120)] == [
        (each.member, each.quantity) for each in opened.book().round_(round_id=ROUND).commitments
    ]
    assert "ALDER hasn't answered." not in clerk.go(HOME).says


def test_an_answer_is_changed_and_nought_is_one(opened: Served, keeper: Browser) -> None:
    keeper.go(f"{BUYING}/rounds/{ROUND}?member=CEDAR")
    commit(keeper, "95")
    keeper.go(f"{BUYING}/rounds/{ROUND}?member=CEDAR").send({"quantity": "95"}, form=COMMITTING, button="effect")
    # 95 at 10.00 cost 950.00, 100 at 9.00 cost 900.00
    assert "5 credits more would cost 50.00 less in total." in keeper.says
    commit(keeper, "0")

    assert [("CEDAR", 0)] == [(each.member, each.quantity) for each in opened.book().round_(round_id=ROUND).commitments]


def test_an_answer_that_somebody_else_changed_is_shown_again(opened: Served, keeper: Browser) -> None:
    keeper.go(f"{BUYING}/rounds/{ROUND}").send({"member": "CEDAR", "quantity": "5"}, form=COMMITTING, button="effect")
    opened.book().put_commitment(round_id=ROUND, member="CEDAR", quantity=7)
    keeper.send({}, form=COMMITTING, button="record")

    assert keeper.answer.status_code in {409, 412, 428}
    assert [7] == [each.quantity for each in opened.book().round_(round_id=ROUND).commitments]

    commit(keeper, "5")
    assert [5] == [each.quantity for each in opened.book().round_(round_id=ROUND).commitments]


def test_sending_an_answer_twice_leads_to_the_same_page(opened: Served, keeper: Browser) -> None:
    keeper.go(f"{BUYING}/rounds/{ROUND}").send({"member": "CEDAR", "quantity": "5"}, form=COMMITTING, button="effect")
    shown = keeper.answer
    keeper.send({}, form=COMMITTING, button="record")
    keeper.answer = shown
    keeper.send({}, form=COMMITTING, button="record")

    assert 200 == keeper.answer.status_code
    assert "The answer is on file." in keeper.says
    assert 5 == opened.book().round_(round_id=ROUND).committed


def test_an_answer_is_not_taken_before_its_effect_was_seen(opened: Served, keeper: Browser) -> None:
    keeper.go(f"{BUYING}/rounds/{ROUND}").send({"member": "CEDAR", "quantity": "5"}, form=COMMITTING, button="effect")
    keeper.send({"quantity": "50"}, form=COMMITTING, button="record")

    assert "CEDAR takes 50 credits" in keeper.says
    assert 0 == opened.book().round_(round_id=ROUND).committed


def test_a_round_becomes_one_purchase_and_its_draws(opened: Served, keeper: Browser) -> None:
    for member, quantity in (("ALDER", 100), ("BIRCH", 60)):
        opened.book().put_commitment(round_id=ROUND, member=member, quantity=quantity)
    keeper.go(f"{BUYING}/rounds/{ROUND}/close")
    assert "Purchase into stock 160 1,440.00" in keeper.says
    keeper.send({"paid_by": "ALDER", "order_number": "N-7"}, form=CLOSING)
    assert "Not recorded." in keeper.says  # CEDAR and DOGWOOD haven't answered
    assert RoundState.OPEN is state(opened)
    keeper.send({"accept_unanswered": "yes"}, form=CLOSING)

    assert "Closed: the purchase and the draws are recorded." in keeper.says
    bodies = [opened.book().entry(number=number).entry.body for number in (1, 2, 3)]
    bought = Purchase(paid_by="ALDER", into="stock", quantity=160, amount=Decimal("1440.00"), order_number="N-7")
    assert [bought, Draw(member="ALDER", quantity=100), Draw(member="BIRCH", quantity=60)] == bodies
    assert "ALDER paid 1,440.00 EUR for 160 credits, order N-7" in keeper.says
    assert "It has ended already." in keeper.go(f"{BUYING}/rounds/{ROUND}/close").says


def test_a_round_that_moved_is_not_closed(opened: Served, keeper: Browser) -> None:
    opened.book().put_commitment(round_id=ROUND, member="ALDER", quantity=100)
    keeper.go(f"{BUYING}/rounds/{ROUND}/close")
    opened.book().put_commitment(round_id=ROUND, member="BIRCH", quantity=60)
    keeper.send({"paid_by": "ALDER", "accept_unanswered": "yes"}, form=CLOSING)

    assert 412 == keeper.answer.status_code
    assert "Somebody has committed since you looked" in keeper.says
    assert 0 == opened.book().positions().number


@pytest.mark.parametrize(
    ("said", "told"), [({"quantity": "0"}, "A whole number of credits"), ({"on": "soon"}, "A day, written as")]
)
def test_what_is_wrong_in_a_closing_is_not_folded_away(
    opened: Served, keeper: Browser, said: dict[str, str], told: str
) -> None:
    opened.book().put_commitment(round_id=ROUND, member="ALDER", quantity=100)
    keeper.go(f"{BUYING}/rounds/{ROUND}/close")
    assert not keeper.page.css("details[open]")
    keeper.send({"paid_by": "ALDER", "accept_unanswered": "yes", **said}, form=CLOSING)

    assert 422 == keeper.answer.status_code
    assert told in text_of(keeper.one("details[open] .wrong"))


def test_what_a_closing_was_refused_for_is_not_folded_away(opened: Served, keeper: Browser) -> None:
    opened.book().put_commitment(round_id=ROUND, member="ALDER", quantity=100)
    keeper.go(f"{BUYING}/rounds/{ROUND}/close")
    keeper.send({"paid_by": "ALDER", "accept_unanswered": "yes", "quantity": "99"}, form=CLOSING)

    assert 409 == keeper.answer.status_code
    assert "99" == keeper.one("details[open] #quantity").attributes["value"]


def test_a_deadline_moves_and_a_round_is_called_off(opened: Served, keeper: Browser) -> None:
    keeper.go(f"{BUYING}/rounds/{ROUND}").send({"deadline": "2026-11-20T12:00", "reason": ""}, form="#extending")
    assert 422 == keeper.answer.status_code
    keeper.send({"reason": "two are away"}, form="#extending")
    assert "The deadline has moved." in keeper.says
    keeper.send({"reason": "prices fall"}, form="#calling-off")

    assert "Called off: prices fall" in keeper.says
    assert RoundState.CALLED_OFF is state(opened)
    assert not keeper.page.css(COMMITTING)


@pytest.mark.parametrize("role", ["clerk", "reader"])
def test_others_than_keepers_end_nothing(opened: Served, pages: httpx.Client, role: str) -> None:
    browser = signed_in(opened, pages, role).go(f"{BUYING}/rounds/{ROUND}")

    assert [COMMITTING.strip("#")] * (role == "clerk") == [
        each.attributes.get("id") for each in browser.page.css("main form")
    ]
    assert not browser.go(BUYING).page.css("#opening")


def test_a_round_that_is_none_is_not_found(keeper: Browser) -> None:
    assert 404 == keeper.go(f"{BUYING}/rounds/00000009").answer.status_code
