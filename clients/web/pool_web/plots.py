"""Plots as vector drawings (SVG) for the light and the dark scheme: the only place of the pages that knows the plotting
library, which is loaded with the first plot. Lines are told apart by marks and strokes, not by colour alone.

The same figures in the same look are drawn once, and kept: whoever asks has read the figures in its own name before. A
drawing states all that the library's settings would say otherwise, since the report beside it changes them for a time.
"""

import io
import threading
from calendar import month_abbr
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_LINES = 8
"""As many as can be told apart."""

SCHEMES = ("light", "dark")
WIDTHS = {"wide": (8.0, 3.8), "narrow": (3.9, 3.6)}
"""Inches, a screen's 96 pixels to each; type is as large in both."""
COLUMNS = {"wide": 5, "narrow": 3}
"""Of the names below."""

_STYLES = tuple(zip("osD^vPX*", ("-", "--", "-.", ":", "-", "--", "-.", ":"), strict=True))
_STEP_ASIDE = 0.05
"""Of a month, between lines, so that equal values don't hide each other."""
_LETTERS, _SMALL_LETTERS, _HATCH, _APART = 10, 9, 1, 16
"""Points."""
_FIGURE, _LINE, _ROW = 0.64, 1.2, 1.7
"""How wide a figure and how high a line and a row of names are, in letters."""

MOST_KEPT = 32
"""Drawings of a kind, the last that were asked for: some 2 MB."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """For which of the schemes and widths something is drawn."""

    scheme: str
    width: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line by the places of the axis; None where it has a gap."""

    name: str
    values: tuple[Decimal | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """Unit costs by month: lines of members, the pool's price, and the ladder's tiers from end to end."""

    months: tuple[str, ...]
    unit: str
    lines: tuple[Line, ...]
    pool: Line
    cheapest: Line
    dearest: Line


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Credits by month: what is at hand after the month, what is needed in it, what is ordered for it."""

    months: tuple[str, ...]
    need: tuple[int, ...]
    ordered: tuple[int, ...]
    closing: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Inks:
    ink: str
    soft: str
    grid: str
    fill: str
    lines: tuple[str, ...]


_INKS = {
    "light": _Inks(
        ink="#1d2629",
        soft="#55646a",
        grid="#d9ddd6",
        fill="#dfe7e6",
        lines=("#14555f", "#9c4a1b", "#1c6238", "#6a4a8c", "#7a6410", "#9c2a5b", "#36506e", "#4a4f52"),
    ),
    "dark": _Inks(
        ink="#e9edea",
        soft="#a6b4b5",
        grid="#354347",
        fill="#2c3b40",
        lines=("#7fcbd0", "#f0a878", "#86d29c", "#c3a8ea", "#e6cf73", "#f09abf", "#9dbde6", "#c4cccd"),
    ),
}


@lru_cache(MOST_KEPT)
def costs_svg(costs: Costs, look: Look) -> bytes:
    """Draw unit costs by month."""
    inks, places = _INKS[look.scheme], range(len(costs.months))

    def draw(axes: "Axes") -> None:
        low, high = _floats(costs.cheapest.values), _floats(costs.dearest.values)
        axes.fill_between(
            places,
            low,
            high,
            facecolor=inks.fill,
            hatch="///",
            hatch_linewidth=_HATCH,
            edgecolor=inks.grid,
            linewidth=0,
            label="ladder",
        )
        axes.plot(places, low, color=inks.soft, linewidth=1)
        axes.plot(places, high, color=inks.soft, linewidth=1)
        axes.plot(places, _floats(costs.pool.values), color=inks.soft, linewidth=4, alpha=0.6, label=costs.pool.name)
        middle = (len(costs.lines) - 1) / 2
        for nth, line in enumerate(costs.lines[:MOST_LINES]):
            mark, stroke = _STYLES[nth]
            axes.plot(
                [place + _STEP_ASIDE * (nth - middle) for place in places],
                _floats(line.values),
                color=inks.lines[nth],
                linestyle=stroke,
                linewidth=1.4,
                marker=mark,
                markersize=5,
                label=line.name,
            )
        axes.set_ylabel(costs.unit, fontsize=_LETTERS)
        axes.yaxis.set_major_formatter("{x:.2f}")
        _months(axes, costs.months, look)

    return _svg(draw, look)


@lru_cache(MOST_KEPT)
def plan_svg(plan: Plan, look: Look) -> bytes:
    """Draw orders and needs as bars beside each other, and what is left after each month as a line."""
    inks, places = _INKS[look.scheme], range(len(plan.months))

    def draw(axes: "Axes") -> None:
        axes.bar([each - 0.2 for each in places], plan.ordered, 0.38, color=inks.lines[0], label="ordered")
        axes.bar(
            [each + 0.2 for each in places],
            plan.need,
            0.38,
            color=inks.fill,
            edgecolor=inks.ink,
            hatch="///",
            hatch_linewidth=_HATCH,
            label="needed",
        )
        axes.plot(places, plan.closing, color=inks.lines[1], marker="o", linestyle="--", label="left over")
        axes.set_ylabel("credits", fontsize=_LETTERS)
        axes.yaxis.set_major_formatter("{x:,.0f}")
        axes.set_ylim(bottom=0)
        _months(axes, plan.months, look)

    return _svg(draw, look)


def _months(axes: "Axes", months: Sequence[str], look: Look) -> None:
    """Name the months that there is room for, with the year where it begins."""
    room = 12 if look.width == "wide" else 6
    shown = range(0, len(months), -(-len(months) // room))
    words: list[str] = []
    for place in shown:
        year, number = months[place].split("-")
        begins = not words or year != months[place - shown.step][:4]
        words.append(f"{month_abbr[int(number)]}\n{year if begins else ''}")
    axes.set_xticks(list(shown), words)
    axes.set_xlim(-0.6, len(months) - 0.4)


def _floats(values: Sequence[Decimal | None]) -> list[float]:
    return [float("nan") if each is None else float(each) for each in values]


_ONE_AT_A_TIME = threading.Lock()


def _svg(draw: "Callable[[Axes], None]", look: Look) -> bytes:
    from matplotlib.figure import Figure  # noqa: PLC0415 - takes most of a second to load, and few pages need it

    with _ONE_AT_A_TIME:
        figure = Figure(figsize=WIDTHS[look.width])
        axes = figure.add_subplot()
        draw(axes)
        _dress(axes, look)
        _place(figure, axes, look)
        drawn = io.BytesIO()
        nothing: dict[str, Any] = {"Date": None, "Creator": None}
        figure.savefig(drawn, format="svg", metadata=nothing, transparent=True)
    return drawn.getvalue()


def _dress(axes: "Axes", look: Look) -> None:
    inks = _INKS[look.scheme]
    axes.set_axisbelow(True)
    axes.grid(visible=True, color=inks.grid, linewidth=0.6)
    axes.tick_params(colors=inks.ink, labelsize=_SMALL_LETTERS)
    axes.yaxis.label.set_color(inks.ink)
    for side, spine in axes.spines.items():
        spine.set_visible(side in {"left", "bottom"})
        spine.set_edgecolor(inks.soft)
    legend = axes.legend(
        loc="lower center",
        bbox_to_anchor=(0.5, 0),
        bbox_transform=axes.figure.transFigure,
        ncols=COLUMNS[look.width],
        frameon=False,
        labelcolor=inks.ink,
        fontsize=_SMALL_LETTERS,
    )
    for each in legend.get_patches():
        each.set_hatch_linewidth(_HATCH)


def _place(figure: "Figure", axes: "Axes", look: Look) -> None:
    """Leave room for words on every side, as much as they need: having that found by the library takes as long again as
    the drawing."""
    width, height = (72 * inches for inches in figure.get_size_inches())
    shown = axes.yaxis.get_major_formatter()
    figures = max(len(shown(each)) for each in axes.get_yticks()) * _FIGURE * _SMALL_LETTERS
    names = axes.get_legend_handles_labels()[1]
    rows = -(-len(names) // COLUMNS[look.width])
    below = 2 * _LINE * _SMALL_LETTERS + rows * _ROW * _SMALL_LETTERS + _APART
    figure.subplots_adjust(
        left=(figures + _LINE * _LETTERS + _APART) / width,
        right=1 - _APART / 2 / width,
        top=1 - _APART / 2 / height,
        bottom=below / height,
    )
