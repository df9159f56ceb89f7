"""The plots of the pages, as vector drawings (SVG), light or dark: the only place here that knows the plotting library.

Lines can be told apart without colour, by marks and strokes. Where there are more members than can be told apart those
with most credits are drawn; the table beside the plot has them all.
"""

import io
import threading
from collections.abc import Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pool_client.models.report import MonthCosts

MOST_LINES = 8

_STYLES = tuple(zip("osD^vPX*", ("-", "--", "-.", ":", "-", "--", "-.", ":"), strict=True))
_INKS = {
    "light": ("#14555f", "#9c2a1b", "#7a5a00", "#5a3d8c", "#1c6238", "#3a4a9c", "#8a2f63", "#55646a"),
    "dark": ("#7fcbd0", "#ff9d8a", "#f4c95d", "#c3a9f0", "#86d29c", "#9db2ff", "#f0a3cd", "#a6b4b5"),
}
_GROUND = {"light": ("#1d2629", "#cfd3cc"), "dark": ("#e9edea", "#354347")}
_ONE_AT_A_TIME = threading.Lock()
"""The library's settings are the whole process's."""


def costs_plot(costs: "Sequence[MonthCosts]", tiers: Sequence[Decimal], currency: str, scheme: str) -> bytes:
    """Draw what a credit cost each member by month, the pool price, and the vendor's prices by order size.

    Takes:   costs — first month first; tiers — unit prices of the present ladder; scheme — light or dark."""
    from matplotlib.figure import Figure  # noqa: PLC0415 - it takes long to load, and few pages need it

    ink, line = _GROUND[scheme]
    figure = Figure(figsize=(6, 4.4), layout="constrained")
    figure.patch.set_alpha(0)
    axes: Any = figure.add_subplot()
    axes.patch.set_alpha(0)
    places = range(len(costs))
    for price in tiers:
        axes.axhline(_float(price), color=line, linewidth=1.2, zorder=0)
    axes.plot(places, [_of(each.pool_price) for each in costs], color=ink, linewidth=4, alpha=0.35, label="pool price")
    for nth, member in enumerate(_drawn(costs)):
        mark, stroke = _STYLES[nth]
        found = [
            next((_of(one.blended_unit_cost) for one in each.members if one.member == member), None) for each in costs
        ]
        shown = [float("nan") if value is None else value for value in found]
        axes.plot(places, shown, color=_INKS[scheme][nth], marker=mark, linestyle=stroke, label=member)
    axes.set_xticks(list(places), [each.month for each in costs])
    axes.set_xlim(-0.3, len(costs) - 0.7)
    axes.set_ylabel(f"{currency} a credit", color=ink)
    axes.tick_params(colors=ink)
    for name, spine in axes.spines.items():
        spine.set_visible(name in {"left", "bottom"})
        spine.set_color(line)
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.1), ncols=4, frameon=False, labelcolor=ink)
    return _svg(figure)


def _drawn(costs: "Sequence[MonthCosts]") -> list[str]:
    """Give the members whose lines are drawn, in order of code."""
    available: dict[str, int] = {}
    for each in costs:
        for one in each.members:
            available[one.member] = available.get(one.member, 0) + one.available
    most = sorted(available, key=lambda member: (-available[member], member))[:MOST_LINES]
    return sorted(most)


def _of(cost: Any) -> float:
    return float("nan") if cost is None else _float(cost.shown)


def _float(value: Decimal) -> float:
    """Give a place on a drawing; no figure that is told comes from it."""
    return float(value)


def _svg(figure: Any) -> bytes:
    from matplotlib import rc_context  # noqa: PLC0415 - as above

    into = io.BytesIO()
    with _ONE_AT_A_TIME, rc_context({"svg.hashsalt": "credit pool", "svg.fonttype": "none", "font.size": 10}):
        figure.savefig(into, format="svg", metadata={"Date": None, "Creator": None})
    return into.getvalue()
