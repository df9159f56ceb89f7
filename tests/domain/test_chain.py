"""A chain that is moved on entry by entry says the same as one made from scratch, and makes only what changed anew."""

from collections import Counter
from collections.abc import Iterable, Sequence

from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.activity import Activities, gathered
from pool_api.domain.chain import NOTHING
from pool_api.domain.entries import Acknowledgement, Draw, Entry, Opening, Payment, Reversal, Use, Verdict, quantity_of
from pool_api.domain.pool import Policy
from pool_api.domain.values import Month
from tests.domain.journals import (
    MONTHS,
    Journal,
    Rules,
    Wish,
    accepted,
    all_rules,
    bought,
    linked,
    openings,
    under,
    use,
    wishes,
)

cuts = st.lists(st.integers(1, 46), max_size=6)


def move_on(activities: Activities, journal: Sequence[Entry]) -> None:
    """Add what a journal has more, as whoever reads it from a database does."""
    after = activities.through
    new = [each for each in journal if each.number > after]
    reversals = ((each, journal[each.body.entry - 1]) for each in new if isinstance(each.body, Reversal))
    forgotten = activities.reverse(reversals)
    activities.add(each for each in journal if each.number > after or each.effective_on in forgotten)


@given(opening=openings, asked=wishes(75), rules=all_rules, cuts=cuts, in_order=st.booleans())
def test_a_chain_moved_on_is_the_chain_from_scratch(
    *, opening: Opening | None, asked: list[Wish], rules: Rules, cuts: list[int], in_order: bool
) -> None:
    """Entries dated late, reversals of the same month and of earlier ones, openings, any policy, cut anywhere."""
    journal = accepted(opening, asked, rules, in_order=in_order).entries
    activities = Activities()
    kept = dict(NOTHING)
    for cut in (*sorted(cuts), len(journal)):
        move_on(activities, journal[:cut])
        moved = list(linked(activities.months, rules, kept))
        whole = list(linked(gathered(journal[:cut]), rules))

        assert [link.sheet for link, _ in whole] == [link.sheet for link, _ in moved]
        assert [link.originals for link, _ in whole] == [link.originals for link, _ in moved]
        assert [position for _, position in whole] == [position for _, position in moved]
        kept = {link.sheet.month: link for link, _ in moved}


@given(asked=wishes(75), rules=all_rules, cuts=cuts, in_order=st.booleans())
def test_what_was_used_is_each_use_less_all_that_reversals_took_back(
    *, asked: list[Wish], rules: Rules, cuts: list[int], in_order: bool
) -> None:
    """Whatever else happened, and however often the journal was read on between."""
    journal = accepted(None, asked, rules, in_order=in_order).entries
    activities, used = Activities(), Counter[tuple[Month, str]]()
    for cut in (*sorted(cuts), len(journal)):
        move_on(activities, journal[:cut])
    for each in journal:
        target = journal[each.body.entry - 1] if isinstance(each.body, Reversal) else each
        if isinstance(target.body, Use):
            sign = 1 if target is each else -1
            used[Month.of(target.effective_on), target.body.member] += sign * (quantity_of(each.body) or 0)

    found = activities.used()
    assert +used == {(month, member): credits for month in found for member, credits in found[month].items() if credits}


def remade(journal: Journal, more: Iterable[tuple[object, int, int]]) -> list[bool]:
    """Tell of each month whether its sheet was made anew after more entries, given as body, day and month."""
    activities = Activities()
    move_on(activities, journal.entries)
    kept = {link.sheet.month: link for link, _ in linked(activities.months, under(Policy()))}
    for body, day, month in more:
        journal.write(body, day, month)  # type: ignore[arg-type]
    move_on(activities, journal.entries)
    moved = linked(activities.months, under(Policy()), kept)
    return [link.sheet is not kept[month].sheet for month, (link, _) in zip(MONTHS, moved, strict=True)]


def three_months() -> Journal:
    journal = Journal()
    for month in range(3):
        journal.write(bought(30, 300), 2, month)
        journal.write(Draw(member="BIRCH", quantity=10), 3, month)
        journal.write(use("BIRCH", 4), 4, month)
    return journal


def test_an_entry_makes_its_month_and_those_that_it_changes_anew() -> None:
    assert [False, False, True] == remade(three_months(), [(use("BIRCH", 1), 9, 2)])
    assert [False, True, True] == remade(three_months(), [(use("BIRCH", 1), 9, 1)])
    assert [True, True, True] == remade(three_months(), [(use("BIRCH", 1), 9, 0)])
    assert [True, False, False] == remade(
        three_months(), [(Payment(from_member="BIRCH", to_member="ALDER", amount=5), 9, 0)]
    )


def test_a_reversal_makes_anew_the_month_in_which_it_takes_effect() -> None:
    """The month of what it reverses stays: it only has to say what that had cost."""
    assert [False, False, True] == remade(three_months(), [(Reversal(entry=3, quantity=1), 9, 2)])


def test_what_moves_nothing_makes_nothing_anew() -> None:
    word = Acknowledgement(entry=2, member="BIRCH", verdict=Verdict.CONFIRMED)

    assert [False, False, False] == remade(three_months(), [(word, 9, 1)])
