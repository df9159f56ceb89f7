"""What acts about reconciliations come to. Own rules: the last act about a match counts, and the last handing."""

from itertools import count
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.acts import Act, ActKind, pin_name, standing

NUMBERS = count(1)
SIGNED = {("2026-09", "d" * 64)}


def act(kind: ActKind, subject: str = "s", month: str = "2026-09", **content: Any) -> Act:
    return Act(
        number=next(NUMBERS),
        month=month,
        kind=kind,
        subject=subject,
        content=content,
        word="",
        made_by="keeper/-/0a",
        made_at="",
    )


def confirmed(subject: str = "s") -> Act:
    return act(ActKind.CONFIRMED, subject, entries=[2, 1], rows=["r"], first="2026-09-03", last="2026-09-05")


def signed(digest: str) -> Act:
    return act(ActKind.SIGNED, entries=[1], rows=["r"], first="2026-09-03", last="2026-09-03", digest=digest)


def test_a_confirmed_match_is_kept_until_it_is_taken_back() -> None:
    (kept,) = standing([confirmed()], ()).kept.values()
    assert ((2, 1), ("r",), 3, 5) == (kept.pin.entries, kept.pin.rows, kept.first.day, kept.last.day)
    assert {} == standing([confirmed(), act(ActKind.TAKEN_BACK)], ()).kept
    assert {"s"} == set(standing([confirmed(), act(ActKind.TAKEN_BACK), confirmed()], ()).kept)
    assert {"t"} == set(standing([confirmed(), confirmed("t"), act(ActKind.TAKEN_BACK)], ()).kept)


def test_what_was_kept_for_a_sign_off_counts_once_that_is_recorded() -> None:
    assert {"s"} == set(standing([signed("d" * 64)], SIGNED).kept)
    assert {} == standing([signed("e" * 64)], SIGNED).kept
    assert {} == standing([signed("d" * 64)], {("2026-10", "d" * 64)}).kept
    assert {} == standing([signed("d" * 64), act(ActKind.TAKEN_BACK)], SIGNED).kept


def test_a_sign_off_that_was_never_recorded_takes_no_confirmation_away() -> None:
    (kept,) = standing([confirmed(), signed("e" * 64)], SIGNED).kept.values()

    assert ActKind.CONFIRMED is kept.act.kind


def test_a_difference_is_in_the_hands_of_the_last_one_that_it_was_handed_to() -> None:
    to_alder, to_birch = act(ActKind.HANDED, member="ALDER"), act(ActKind.HANDED, member="BIRCH")
    answered = act(ActKind.ANSWERED, member="ALDER", answer="other", fields={})
    back = act(ActKind.HANDED, member=None)

    found = standing([to_alder, answered], ()).handed["s"]
    assert ("ALDER", to_alder, answered, (to_alder, answered)) == (found.member, found.act, found.answer, found.acts)
    found = standing([to_alder, answered, to_birch], ()).handed["s"]
    assert ("BIRCH", to_birch, None, 3) == (found.member, found.act, found.answer, len(found.acts))
    assert {} == standing([to_alder, answered, back], ()).handed
    assert 3 == len(standing([to_alder, answered, back], ()).trails["s"])
    assert {} == standing([answered], ()).handed


@given(st.lists(st.integers(1, 99), min_size=1), st.lists(st.text("0123456789abcdef", min_size=3), min_size=1))
def test_the_name_of_a_match_does_not_hang_on_the_order_of_its_parts(entries: list[int], rows: list[str]) -> None:
    assert pin_name(entries, rows) == pin_name(sorted(entries, reverse=True), rows[::-1])
    assert pin_name(entries, rows) != pin_name([*entries, 100], rows)
