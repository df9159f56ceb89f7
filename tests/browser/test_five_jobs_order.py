"""The third job from start to end: the next joint order planned, answered, placed, and what it saves each shop against
buying alone. 500 credits at 6.90 are the 3,450.00 of the worked example."""

from decimal import Decimal

from playwright.sync_api import ViewportSize, expect
from pool_client.models.entries import Draw, Purchase

from tests.browser.conftest import Open
from tests.browser.walking import EVERYWHERE, begin, give_history
from tests.served import Served


@EVERYWHERE
def test_a_joint_order_is_planned_answered_and_placed(
    house: Served, pool: str, open_page: Open, size: ViewportSize, *, script: bool
) -> None:
    give_history(house.book(f"{pool} keeper", pool))
    walk = begin(house, pool, open_page, size, script=script)

    walk.place("Buying")
    walk.follow("Order plans")
    walk.fill(**{"Months, this one included": "6"})
    walk.press("Make the plan")
    walk.reads("November 2026 to April 2027", "Next order:")
    expect(walk.page.get_by_role("img", name="Orders, needs and what is left over")).to_be_visible()
    walk.seen("plan")
    (planned,) = walk.book.order_plans()
    needs = walk.book.order_plan(plan_id=planned.plan_id)
    assert needs.next_order is not None
    walk.reads(f"{needs.next_order.order.quantity:,} for")

    walk.follow("Joint orders")
    walk.fill(Members_answer_until="2026-11-20T18:00")
    walk.press("Open it")
    walk.told("It is open.")
    walk.place("Now")
    walk.follow("Answer for ALDER")
    walk.fill(Credits="480")
    # 480 at 9.00 cost 4,320.00, 500 at 6.90 cost 3,450.00
    walk.check("20 credits more would cost 870.00 less in total.")
    walk.seen("answering")
    walk.press("Commit")
    walk.told("The answer is on file.")
    walk.choose("For whom", "BIRCH")
    walk.fill(Credits="20")
    walk.check("500 credits at 6.90 each, 3,450.00 in all")
    walk.press("Commit")
    walk.told("The answer is on file.")

    walk.follow("Close it: preview the purchase")
    walk.choose("Who paid", "CEDAR")
    walk.main.get_by_label("didn't answer").check()
    walk.seen("closing-order")
    walk.press("Record the purchase and the draws")
    walk.told("Closed")
    walk.reads("CEDAR paid 3,450.00 EUR for 500 credits", "Entries 15, 16, 17.")
    walk.follow("15")
    walk.reads("CEDAR paid 3,450.00 for 500 credits into stock.")
    walk.is_as_recorded(walk.book.entry(number=15).entry)
    assert [
        Purchase(paid_by="CEDAR", into="stock", quantity=500, amount=Decimal("3450.00")),
        Draw(member="ALDER", quantity=480),
        Draw(member="BIRCH", quantity=20),
    ] == [walk.book.entry(number=number).entry.body for number in (15, 16, 17)]

    walk.place("Cost")
    # alone, ALDER would have paid 120 at 9.00 and then 500 at 6.90; BIRCH 150 at 9.00 and 20 at 10.00
    walk.reads("What ordering together was worth", "ALDER 600 4,182.03 4,530.00 347.97")
    walk.reads("BIRCH 170 1,198.92 1,550.00 351.08")
    alone = {each.member: each.alone for each in walk.book.savings(from_month="2026-09", to_month="2026-11").members}
    assert {"ALDER": 4530, "BIRCH": 1550, "CEDAR": 800, "DOGWOOD": 600} == alone
    checked = walk.book.verification()
    assert (True, 17, walk.book.entry(number=17).entry.hash) == (checked.sound, checked.entries, checked.head)
