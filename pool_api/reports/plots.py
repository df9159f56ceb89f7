"""The plots of the keeper's report, as vector drawings (SVG), each with its words for those who can't see it: the only
place that knows the plotting library.

Promises: the same overview gives the same drawings. They can be told apart without colour: by marks, strokes and
hatching, and by names beside them. Where there are more members than can be told apart, the ones with most are drawn,
and the words say so; the tables beside the plots have them all.
"""

import io
import threading
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from pool_api.domain.values import Currency
from pool_api.reports.overview import MonthCosts, Overview
from pool_api.reports.typesetter import Picture

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.axes import Axes

MOST_LINES = 8
"""Members whose lines can be told apart."""
MOST_BARS = 16

_STYLES = tuple(zip("osD^vPX*", ("-", "--", "-.", ":", "-", "--", "-.", ":"), strict=True))
_INKS = ("#1f2a33", "#3f6d8e", "#a2552e", "#4d7a4a", "#7a5c99", "#8a7a2b", "#5b6670", "#2e7f83")
_STEP_ASIDE = 0.05
"""Of a month, between members, so that equal costs don't hide each other."""
_MM = 1 / 25.4
_LOOK: dict[Any, Any] = {
    "font.size": 8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": "#5b6670",
    "axes.labelcolor": "#1f2a33",
    "xtick.color": "#1f2a33",
    "ytick.color": "#1f2a33",
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": "#dde2e6",
    "grid.linewidth": 0.6,
    "legend.frameon": False,
    "hatch.linewidth": 0.6,
    "svg.hashsalt": "credit pool",
}


def costs_plot(made: Overview) -> Picture:
    """Draw the blended unit cost by month: a line for each member, and the pool price."""
    drawn, places = _most_available(made.costs), range(len(made.costs))

    def draw(axes: "Axes") -> None:
        price = [_major(each.price, made.pool.currency) for each in made.costs]
        axes.plot(places, price, color="#9aa4ab", linewidth=4, alpha=0.6, label="pool price")
        for nth, member in enumerate(drawn):
            mark, stroke = _STYLES[nth]
            axes.plot(
                [place + _STEP_ASIDE * (nth - (len(drawn) - 1) / 2) for place in places],
                [_cost_of(member, each, made.pool.currency) for each in made.costs],
                color=_INKS[nth],
                linestyle=stroke,
                linewidth=1.1,
                marker=mark,
                markersize=4,
                label=member,
            )
        axes.set_xticks(places, [each.month for each in made.costs])
        axes.set_xlim(-0.5, len(places) - 0.5)
        axes.set_ylabel(f"{made.pool.currency.code} a credit")
        axes.yaxis.set_major_formatter("{x:.4f}")
        axes.legend(loc="center left", bbox_to_anchor=(1.01, 0.5))

    return Picture(svg=_svg(draw, 62), alt=costs_words(made))


def costs_words(made: Overview) -> str:
    """Say what the plot of costs shows."""
    last, currency = made.costs[-1], made.pool.currency
    if not last.members:
        return f"Blended unit cost by month and member: nobody had credits in {last.month}."
    ordered = sorted(last.members, key=lambda each: (each.unit_cost, each.member))
    low, high = ordered[0], ordered[-1]
    since = made.costs[0].month
    span = last.month if since == last.month else f"{since} to {last.month}"
    said = (
        f"Blended unit cost by month and member, {span}. In {last.month} it went from "
        f"{currency.unit_text(low.unit_cost)} ({low.member}) to {currency.unit_text(high.unit_cost)} ({high.member}) "
        f"{currency.code} a credit."
    )
    drawn, count = len(_most_available(made.costs)), len({one.member for each in made.costs for one in each.members})
    return said if drawn == count else f"{said} Of {count} members the {drawn} with most credits are drawn."


def stock_plot(made: Overview) -> Picture:
    """Draw the credits in stock at the end of each day."""
    days = [each.on.day for each in made.stock]
    levels = [each.credits for each in made.stock]

    def draw(axes: "Axes") -> None:
        axes.fill_between(days, levels, step="mid", facecolor="#e3e8ec", edgecolor="#9aa4ab", hatch="///", linewidth=0)
        axes.step(days, levels, where="mid", color="#1f2a33", linewidth=1.2)
        axes.axhline(0, color="#5b6670", linewidth=0.8)
        axes.set_xlabel(f"day of {made.month}")
        axes.set_ylabel("credits in stock")
        axes.set_xlim(0.5, max(days) + 0.5)
        axes.set_xticks(days[::2])

    return Picture(svg=_svg(draw, 50), alt=stock_words(made))


def stock_words(made: Overview) -> str:
    """Say what the plot of the stock shows."""
    low = min(made.stock, key=lambda each: (each.credits, each.on))
    high = max(made.stock, key=lambda each: (each.credits, -each.on.toordinal()))
    last = made.stock[-1]
    return (
        f"Credits in stock at the end of each day of {made.month}: lowest {low.credits:,} on {low.on}, highest "
        f"{high.credits:,} on {high.on}, {last.credits:,} on {last.on}."
    )


def lending_plot(made: Overview) -> Picture:
    """Draw what each member lent, to the right, and borrowed, to the left, less what was returned."""
    balances = dict(_biggest(made.balances()))
    members = list(reversed(balances))
    lent = [balances[each][0] for each in members]
    borrowed = [-balances[each][1] for each in members]

    def draw(axes: "Axes") -> None:
        axes.barh(members, lent, facecolor="#cfd8de", edgecolor="#1f2a33", hatch="///", linewidth=0.8, label="lent")
        axes.barh(
            members, borrowed, facecolor="white", edgecolor="#1f2a33", hatch="...", linewidth=0.8, label="borrowed"
        )
        axes.axvline(0, color="#1f2a33", linewidth=1)
        axes.grid(visible=False, axis="y")
        axes.xaxis.set_major_formatter(lambda value, _: f"{abs(value):,.0f}")
        axes.set_xlabel("credits borrowed (left) and lent (right), less returns")
        axes.legend(loc="center left", bbox_to_anchor=(1.01, 0.5))

    return Picture(svg=_svg(draw, 22 + 7 * len(members)), alt=lending_words(made))


def lending_words(made: Overview) -> str:
    """Say what the plot of lending shows."""
    balances = made.balances()
    if not balances:
        return f"Nobody lent credits in {made.month}."
    lender = max(balances, key=lambda each: balances[each][0])
    borrower = max(balances, key=lambda each: balances[each][1])
    said = (
        f"Credits lent and borrowed in {made.month}, less returns: {lender} lent most, {balances[lender][0]:,}; "
        f"{borrower} borrowed most, {balances[borrower][1]:,}."
    )
    if len(balances) <= MOST_BARS:
        return said
    return f"{said} Of {len(balances)} members the {MOST_BARS} with most are drawn."


def _most_available(costs: tuple[MonthCosts, ...]) -> list[str]:
    credits: dict[str, int] = {}
    for each in costs:
        for one in each.members:
            credits[one.member] = credits.get(one.member, 0) + one.available.quantity
    most = sorted(credits, key=lambda member: (-credits[member], member))[:MOST_LINES]
    return sorted(most)


def _biggest(balances: dict[str, tuple[int, int]]) -> list[tuple[str, tuple[int, int]]]:
    biggest = sorted(balances.items(), key=lambda each: (-abs(each[1][0]) - abs(each[1][1]), each[0]))[:MOST_BARS]
    return sorted(biggest)


def _cost_of(member: str, costs: MonthCosts, currency: Currency) -> float:
    return _major(next((each.unit_cost for each in costs.members if each.member == member), None), currency)


def _major(price: Fraction | None, currency: Currency) -> float:
    """Give a unit price in major units; what is no number where there is none, so that a line has a gap there."""
    return float("nan") if price is None else float(price / 10**currency.decimals)


_ONE_AT_A_TIME = threading.Lock()
"""The look is a setting of the whole process while something is drawn."""


def _svg(draw: "Callable[[Axes], None]", height_mm: int) -> str:
    from matplotlib import rc_context  # noqa: PLC0415 - takes most of a second to load, and few requests need it
    from matplotlib.figure import Figure  # noqa: PLC0415 - as above

    with _ONE_AT_A_TIME, rc_context(_LOOK):
        figure = Figure(figsize=(174 * _MM, height_mm * _MM), layout="constrained")
        draw(figure.add_subplot())
        drawn = io.StringIO()
        figure.savefig(drawn, format="svg", metadata={"Date": None, "Creator": None}, transparent=True)
    return drawn.getvalue()
