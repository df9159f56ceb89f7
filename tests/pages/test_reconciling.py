"""A month against the vendor's record on the pages: side by side, mended with one click, undone; asked; signed off."""

from datetime import date

import httpx
import pytest
from pool_client.models.entries import Draw, Loan

from tests.pages.browsing import Browser, filled_in, text_of
from tests.pages.conftest import signed_in
from tests.pages.test_months import row
from tests.rest.exported import HEADER, Exported, exported
from tests.served import POOL, Served

MONTH = "2026-09"
HOME = f"/book/{POOL}"
SEPTEMBER = f"{HOME}/months/{MONTH}/vendor"
DECIDE = f'form.mend[action="{SEPTEMBER}/decisions"]'
STANDS = f'details form[action="{SEPTEMBER}/decisions"]'
HAND = f'form[action="{SEPTEMBER}/handings"]'
CONFIRM = f'form[action="{SEPTEMBER}/confirmations"]'

AGREED = "2026-09-02,Top-up,,+100,,100\n2026-09-03,Sent,nv-birch,-40,,60\n2026-09-03,Sent,nv-cedar,-5,,55\n"
MISSING = "2026-09-03,Sent,nv-cedar,-5,,50\n2026-09-05,Sent,nv-dogwood,-7,for a van,43\n"
WHOLE = {"from_day": "2026-09-01", "to_day": "2026-09-30"}


@pytest.fixture
def book(service: Served, keeper: Browser) -> Browser:
    """A month in which the vendor shows one transfer that the book doesn't have."""
    filled(service).give(HEADER + AGREED + MISSING, **WHOLE)
    return keeper.go(SEPTEMBER)


def filled(service: Served) -> Exported:
    """Set the pool up, with 20 credits that ALDER drew from the stock in its own account: the vendor shows no row."""
    made = exported(service)
    service.book().record(Draw(member="ALDER", quantity=20), effective_on=date(2026, 9, 4))
    return made


def undecided(service: Served) -> int:
    return service.book().reconciliation(month=MONTH).undecided


def test_book_and_vendor_stand_side_by_side(book: Browser) -> None:
    (card,) = book.page.css("#differences ~ ul > li")
    ours, theirs = card.css(".sides > div")

    assert "The book has nothing" == text_of(ours)
    assert "The vendor nv-alder, 5 Sep 2026 7 credits from nv-alder to nv-dogwood for a van" == text_of(theirs)
    assert "Record a loan: 7 credits from ALDER to DOGWOOD on 5 Sep 2026." in text_of(card)
    # bought 100, gave 50: the row of 7 is all that the record has beyond the book
    assert "50" == row(book, "Proof by account", "ALDER doesn't agree")[8]
    assert ["vendor", "0", "100", "0", "57", "0", "0", "43"] == next(
        cells for cells in table(book, "Proof by account") if cells[0] == "vendor"
    )


def table(browser: Browser, title: str) -> list[list[str]]:
    (found,) = [each for each in browser.page.css("table") if text_of(each.css("caption")[0]).startswith(title)]
    return [[text_of(cell) for cell in each.css("th, td")] for each in found.css("tbody tr")]


def test_it_is_mended_with_one_click_and_undone(service: Served, book: Browser) -> None:
    book.send({}, form=DECIDE, button="accepted")

    assert "Recorded as entry 6 ." in book.says
    assert "To decide Nothing" in book.says
    entry = service.book().entry(number=6).entry
    assert Loan(lender="ALDER", borrower="DOGWOOD", quantity=7) == entry.body

    book.send({"entry": "6"}, form=".note form")

    assert "Undone by entry 7 ." in book.says
    assert 20 == {each.member: each.held for each in service.book().positions().members}["ALDER"]
    assert "The vendor shows 7 credits from nv-alder to nv-dogwood" in book.says
    assert "taking back" not in book.says
    assert 1 == undecided(service)

    book.send({"kind": "draw"}, form=DECIDE, button="accepted")
    assert "Recorded as entry 8 ." in book.says
    assert 0 == undecided(service)


def test_what_it_was_is_said_before_it_is_mended(service: Served, book: Browser) -> None:
    book.send({"kind": "draw", "quantity": "7", "reason": "DOGWOOD fetched them"}, form=DECIDE, button="accepted")

    assert "Recorded as entry 6 ." in book.says
    assert "draw" == service.book().entry(number=6).entry.kind


def test_sent_twice_it_is_recorded_once(service: Served, book: Browser) -> None:
    shown = book.answer
    book.send({}, form=DECIDE, button="accepted")
    book.answer = shown
    book.send({}, form=DECIDE, button="accepted")

    assert "Recorded as entry 6 ." in book.says
    assert 6 == service.book().positions().number


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"quantity": "none"}, "A whole number of credits, from 1."),
        ({"effective_on": "soon"}, "A day, written as"),
        ({"kind": "gift"}, "gift is not one of the choices."),
        ({"reason": ""}, "This is needed."),
        ({"giver": "ELM"}, "ELM is neither a member nor a vendor account of one"),
        ({"giver": "BIRCH", "quantity": "100"}, "Not recorded."),
    ],
)
def test_what_cannot_be_recorded_is_told_and_stays_filled_in(
    service: Served, book: Browser, changes: dict[str, str], words: str
) -> None:
    book.send(changes, form=DECIDE, button="accepted")

    assert book.answer.status_code in {409, 422}
    assert words in book.says
    assert 5 == service.book().positions().number
    assert 1 == undecided(service)
    book.send({"kind": "loan", "quantity": "7", "giver": "ALDER", "effective_on": "", "reason": "so"}, form=DECIDE)


def test_it_is_let_stand_with_a_reason(service: Served, book: Browser) -> None:
    assert 422 == book.send({"reason": ""}, form=STANDS, button="dismissed").answer.status_code
    book.send({"reason": "the vendor is wrong here"}, form=STANDS, button="dismissed")

    assert "It stands, with your reason." in book.says
    assert "Stands: “the vendor is wrong here”" in book.says
    assert 0 == undecided(service)


@pytest.mark.parametrize(
    ("form", "changes", "button"),
    [(STANDS, {"reason": ""}, "dismissed"), (HAND, {"to": "", "word": "what was this?"}, "hand")],
)
def test_what_is_folded_away_comes_back_open_and_filled_in(
    book: Browser, form: str, changes: dict[str, str], button: str
) -> None:
    book.send(changes, form=form, button=button)

    assert 422 == book.answer.status_code
    (told,) = book.page.css("details[open] .wrong")
    assert "This is needed." == text_of(told)
    assert changes.items() <= filled_in(book.one(f"details[open] > {form.removeprefix('details ')}")).items()


def test_a_shop_is_asked_and_answers_and_the_keeper_records_it(
    service: Served, book: Browser, pages: httpx.Client
) -> None:
    book.send({"to": "ALDER", "word": "what was this?"}, form=HAND, button="hand")
    assert "Handed to ALDER: “what was this?”" in book.says

    clerk = signed_in(service, pages, "clerk").go(HOME)
    assert "1 question about the vendor's record waits for your answer" in clerk.says
    clerk.go(f"{HOME}/in-hand")
    assert "7 credits from nv-alder to nv-dogwood" in clerk.says
    clerk.send({"kind": "draw", "word": "they fetched them"}, button="mend")
    assert "Thank you." in clerk.says

    keeper = signed_in(service, pages, "keeper").go(SEPTEMBER)
    assert "Answer: mend it (what it was draw): “they fetched them”" in keeper.says
    keeper.send({}, form=f'form[action="{SEPTEMBER}/decisions"]:not(.mend):not(details form)', button="accepted")
    assert "draw" == service.book().entry(number=6).entry.kind


def test_an_answer_that_says_nothing_is_refused(service: Served, book: Browser, pages: httpx.Client) -> None:
    book.send({"to": "ALDER"}, form=HAND, button="hand")
    clerk = signed_in(service, pages, "clerk").go(f"{HOME}/in-hand")

    assert 422 == clerk.send({"word": ""}, button="other").answer.status_code
    assert 422 == clerk.send({"quantity": "x", "word": "so"}, button="mend").answer.status_code
    clerk.send({"word": "we don't know"}, button="other")
    assert "Answer: something else: “we don't know”" in clerk.says


def test_what_was_handed_over_is_taken_back(service: Served, book: Browser) -> None:
    book.send({"to": "ALDER"}, form=HAND, button="hand")
    book.send({}, form=f"{HAND}:has(button.quiet)", button="back")

    assert "It is yours again." in book.says
    assert [] == list(service.book().handed())


def test_a_suggested_match_is_confirmed_and_taken_back(service: Served, keeper: Browser) -> None:
    # BIRCH's draw of 40, shown in two parts
    parts = "2026-09-03,Sent,nv-birch,-25,,75\n2026-09-04,Sent,nv-birch,-15,the rest,60\n"
    exported(service).give(HEADER + "2026-09-02,Top-up,,+100,,100\n" + parts, **WHOLE)
    keeper.go(SEPTEMBER)
    keeper.send({}, form=f"{CONFIRM}:has([name=match])", button="one")

    assert "Nothing moves it now" in keeper.says
    assert 0 == service.book().reconciliation(month=MONTH).suggested

    withdraw = f'form[action="{SEPTEMBER}/withdrawals"]'
    keeper.go(f"{SEPTEMBER}/matches")
    assert 422 == keeper.send({"word": ""}, form=withdraw).answer.status_code
    keeper.go(f"{SEPTEMBER}/matches").send({"word": "it was another"}, form=withdraw)

    assert "It is matched again like all others." in keeper.says
    assert 1 == service.book().reconciliation(month=MONTH).suggested


def test_all_that_are_suggested_are_confirmed_at_once(service: Served, keeper: Browser) -> None:
    # BIRCH's draw of 40 and both of CEDAR's of 5, each shown in two parts
    parts = "".join(
        f"2026-09-0{day},Sent,nv-{shop},-{quantity},,{left}\n"
        for day, shop, quantity, left in (
            (3, "birch", 25, 75),
            (4, "birch", 15, 60),
            (3, "cedar", 3, 57),
            (3, "cedar", 2, 55),
            (4, "cedar", 4, 51),
            (4, "cedar", 1, 50),
        )
    )
    exported(service).give(HEADER + "2026-09-02,Top-up,,+100,,100\n" + parts, **WHOLE)
    suggested = service.book().reconciliation(month=MONTH).suggested
    assert suggested > 1
    shown = keeper.go(SEPTEMBER).answer
    assert f"Confirm all {suggested}" in keeper.says
    everything = f"{CONFIRM}:not(:has([name=match])):not(.card)"
    keeper.send({}, form=everything, button="all")

    assert "Nothing moves it now" in keeper.says
    assert "Confirm all" not in keeper.says
    assert 0 == service.book().reconciliation(month=MONTH).suggested

    keeper.answer = shown
    keeper.send({}, form=everything, button="all")
    assert 200 == keeper.answer.status_code
    assert suggested == keeper.go(f"{SEPTEMBER}/matches").says.count("Take the confirmation back")


@pytest.fixture
def apart(service: Served, keeper: Browser) -> Browser:
    """A month in which the vendor shows BIRCH's draw of 40 so late that the two don't find each other."""
    late = "2026-09-20,Sent,nv-birch,-40,,50\n2026-09-21,Sent,nv-dogwood,-7,for a van,43\n"
    agreed = "2026-09-02,Top-up,,+100,,100\n2026-09-03,Sent,nv-cedar,-5,,95\n2026-09-03,Sent,nv-cedar,-5,,90\n"
    exported(service).give(HEADER + agreed + late, **WHOLE)
    assert 3 == undecided(service)
    return keeper.go(SEPTEMBER)


PAIR = f"{CONFIRM}.card.narrow"


def choices(browser: Browser, field: str) -> dict[str, str]:
    """Give what a field offers by its words."""
    return {text_of(each): each.attributes["value"] or "" for each in browser.page.css(f"{PAIR} [name={field}] option")}


def test_two_that_are_one_are_said_to_be(service: Served, apart: Browser) -> None:
    (row,) = [value for words, value in choices(apart, "row").items() if "40 credits" in words]
    (entry,) = [value for words, value in choices(apart, "entry").items() if value]
    apart.send({"entry": entry, "row": row, "word": "they booked it late"}, form=PAIR, button="pair")

    assert "Nothing moves it now" in apart.says
    assert 1 == undecided(service)
    assert not apart.page.css(PAIR)
    found = service.book().reconciliation(month=MONTH)
    assert [((2,), "they booked it late")] == [(each.entries, each.kept.word) for each in found.matches if each.kept]

    apart.go(f"{SEPTEMBER}/matches").send({"word": "no"}, form=f'form[action="{SEPTEMBER}/withdrawals"]')
    assert 3 == undecided(service)


def test_two_that_can_t_be_one_are_refused_and_stay_chosen(service: Served, apart: Browser) -> None:
    (row,) = [value for words, value in choices(apart, "row").items() if "7 credits" in words]
    (entry,) = [value for words, value in choices(apart, "entry").items() if value]
    apart.send({"entry": entry, "row": row, "word": "I think so"}, form=PAIR, button="pair")

    assert 409 == apart.answer.status_code
    assert "Not recorded." in apart.says
    assert {"entry": entry, "row": row, "word": "I think so"}.items() <= filled_in(apart.one(PAIR)).items()
    assert 3 == undecided(service)


@pytest.mark.parametrize("field", ["entry", "row"])
def test_two_that_are_one_have_to_be_chosen(service: Served, apart: Browser, field: str) -> None:
    chosen = {name: next(value for value in choices(apart, name).values() if value) for name in ("entry", "row")}
    apart.send({**chosen, field: ""}, form=PAIR, button="pair")

    assert 422 == apart.answer.status_code
    assert "Choose one." == text_of(apart.one(f"{PAIR} .wrong"))
    assert 3 == undecided(service)


def test_all_of_a_kind_are_seen_and_then_mended(service: Served, keeper: Browser) -> None:
    more = "2026-09-06,Sent,nv-birch,-3,,40\n"
    filled(service).give(HEADER + AGREED + MISSING + more, **WHOLE)
    keeper.go(SEPTEMBER)
    link = next(each for each in keeper.page.css("a") if text_of(each) == "Mend all 2: missing in journal")
    keeper.go(link.attributes["href"] or "")
    assert "2 would be mended, 0 would be refused." in keeper.says
    assert 5 == service.book().positions().number

    assert 422 == keeper.send({"reason": ""}).answer.status_code
    keeper.send({"reason": "as shown"})

    assert "2 were mended, 0 were refused." in keeper.says
    assert 7 == service.book().positions().number


def test_a_month_is_signed_off_as_it_was_seen(book: Browser) -> None:
    sign = "#signing"
    assert 409 == book.send({}, form=sign).answer.status_code
    book.send({"accept_open": "yes", "note": "one is open"}, form=sign)

    assert "September 2026 signed off against the vendor's record: 4 matched, 1 open" in book.says
    assert "Signed off by entry 6 , " in book.go(SEPTEMBER).says
    assert "#signing" not in book.answer.text


def test_a_month_that_moved_is_not_signed(service: Served, book: Browser) -> None:
    shown = book.answer
    book.send({}, form=DECIDE, button="accepted")
    book.answer = shown
    book.send({"accept_open": "yes"}, form="#signing")

    assert 412 == book.answer.status_code
    assert "has moved since you looked, so nothing was signed" in book.says
    assert service.book().reconciliation(month=MONTH).sign_off is None


def test_the_proof_leads_from_book_to_record(book: Browser) -> None:
    book.go(f"{SEPTEMBER}/proof")

    assert ["", "the book closes with", "50"] in table(book, "From book to record: ALDER")
    assert ["5 Sep 2026", "missing in journal", "\u22127"] in table(book, "From book to record: ALDER")
    assert ["", "the record closes with", "43"] in table(book, "From book to record: ALDER")
    assert "They part on 5 Sep 2026 : the book has 50, the record 43 at its end" in book.says


def test_what_waits_leads_to_the_month(service: Served, keeper: Browser) -> None:
    exported(service).give(HEADER + "2026-10-05,Sent,nv-dogwood,-7,,43\n")
    keeper.go(HOME)
    (link,) = keeper.page.css('[aria-label="Look at the vendor\'s record of October 2026"]')

    assert f"{HOME}/months/2026-10/vendor" == link.attributes["href"]
    assert "October 2026: 1 difference with the vendor's record to decide" in keeper.says


@pytest.mark.usefixtures("book")
def test_a_reader_sees_and_decides_nothing(service: Served, pages: httpx.Client) -> None:
    reader = signed_in(service, pages, "reader")
    for ending in ("", "/matches", "/proof"):
        assert 200 == reader.go(f"{SEPTEMBER}{ending}").answer.status_code
        assert [] == reader.page.css("main form")


@pytest.mark.parametrize("path", [SEPTEMBER, f"{SEPTEMBER}/matches", f"{SEPTEMBER}/proof", f"{HOME}/vendor"])
def test_a_clerk_sees_no_record_of_others(service: Served, pages: httpx.Client, path: str) -> None:
    assert 403 == signed_in(service, pages, "clerk").go(path).answer.status_code


@pytest.mark.parametrize("ending", ["", "/matches", "/proof", "/all?kind=quantity&verdict=accepted"])
def test_a_month_that_is_none_is_told(keeper: Browser, ending: str) -> None:
    assert 404 == keeper.go(f"{HOME}/months/1999-01/vendor{ending}").answer.status_code


@pytest.mark.parametrize("query", ["from=99", "from=-1", "from=x", "entries=<b>"])
def test_an_address_made_up_does_no_harm(book: Browser, query: str) -> None:
    assert 200 == book.go(f"{SEPTEMBER}?{query}&done=accepted").answer.status_code
    assert "<b>" not in book.answer.text
