"""What people are shown of explanations and comparisons: a tree down to the entries, and two policies side by side."""

from dataclasses import replace
from decimal import Decimal

from pool_client import show_figures
from pool_client.calls import explaining
from pool_client.models.explanations import Explained, Explanation, FigureValue, Operand
from pool_client.table import plain

from tests.clients.test_show import given

COMPARISON = given(explaining.comparison("riverside", month="2026-11"))


def value(shown: str) -> FigureValue:
    return FigureValue(shown=Decimal(shown), exact="1", unit="money")


def figure(name: str, shown: str, says: str, *operands: Operand) -> Explanation:
    return Explanation(figure=name, value=value(shown), formula="sum", says=f"{shown} = {says}", operands=operands)


def operand(shown: str, role: str = "plus", origin: str = "figure", **more: object) -> Operand:
    known: dict[str, object] = {"entries": (), **more}
    return Operand(role=role, value=value(shown), origin=origin, **known)  # type: ignore[arg-type]


def shown(*explanations: Explanation, goes_on: str | None = None) -> list[str]:
    found = Explained(month="2026-11", state="open", computed_at=14, items=explanations, next=goes_on)
    return [line.rstrip() for table in show_figures.explained(found) for line in plain(table)]


def test_a_figure_stands_above_what_it_comes_from_down_to_the_entries() -> None:
    lines = shown(
        figure("price", "7.0667", "4,240.00 / 600", operand("4240.00", "factor", figure="stock.available.cost")),
        figure(
            "stock.available.cost",
            "4240.00",
            "3,450.00 + 790.00",
            operand("3450.00", origin="entries", entries=(2,)),
            operand("790.00", "minus", origin="entries", entries=(9, 10)),
        ),
    )

    assert [
        "price of 2026-11 (open), as of entry 14",
        "figure                     value  comes from",
        "price                     7.0667  4,240.00 / 600",
        "  stock.available.cost  4,240.00  3,450.00 + 790.00",
        "    entry 2             3,450.00",
        "    less entries 9, 10    790.00",
    ] == lines


def test_what_is_left_out_of_a_long_sum_or_chain_is_said() -> None:
    sum_of_many = figure("a", "9.00", "1.00 and 7,000 more", operand("1.00", origin="entries", entries=(2,)))

    assert [
        "a                  9.00  1.00 and 7,000 more",
        "  entry 2          1.00",
        "  and 7,000 more         see 'pool operands'",
        "These are the nearest 1 figures; there are more.",
    ] == shown(replace(sum_of_many, more_operands=7_000), goes_on="abc")[2:]


def test_operands_stand_in_a_row_with_where_they_come_from() -> None:
    (table,) = show_figures.operands(
        [operand("1.00", figure="price", entries=(4,)), operand("2.00", "minus", origin="entries", entries=(2, 3))]
    )

    assert [
        "Operands",
        "role   operand       value  comes from",
        "plus   price          1.00  entry 4",
        "minus  entries 2, 3   2.00",
    ] == [line.rstrip() for line in plain(table)]


def test_what_stood_before_is_not_repeated_and_what_is_not_explained_has_its_name() -> None:
    lines = shown(
        figure("a", "2.00", "1.00 + 1.00", operand("1.00", figure="b"), operand("1.00", "minus", figure="b")),
        figure(
            "b",
            "1.00",
            "1.00",
            operand("1.00", origin="month_before", figure="stock.closing.cost"),
            operand("5.00", "least", origin="policy", name="smallest_payment"),
            operand("1.00", "weight", origin="members", name="share of ALDER"),
            operand("1.00", "place", origin="counted"),
            operand("1.00", origin="figure", figure="price"),
        ),
    )

    assert [
        "a                        2.00  1.00 + 1.00",
        "  b                      1.00  1.00",
        "    stock.closing.cost   1.00  the month before",
        "    smallest_payment     5.00  the policy",
        "    share of ALDER       1.00  the pool's members",
        "    price                1.00",
        "  less b                 1.00  see above",
    ] == lines[2:]


def test_two_policies_stand_side_by_side_and_what_is_absent_is_a_dash() -> None:
    member = COMPARISON.members[0]
    none = replace(member.present, blended_unit_cost=None, due=Decimal("-1234.50"))
    found = replace(COMPARISON, members=(replace(member, present=none),))

    rules, costs, dues, *_ = show_figures.comparison(found)
    assert ("rule", "as it is", "instead") == rules.columns
    assert "payments" == rules.rows[-1][0]
    assert "–" == costs.rows[0][1]
    assert ("Due", "-1,234.50") == (dues.title, dues.rows[0][1])
