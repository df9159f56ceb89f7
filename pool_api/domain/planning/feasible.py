"""Whether any plan meets the needs within the limits; and if none does, the first month and the limits that fail it.

Less can be kept than is at hand, so what a month can begin with is everything up to the most that it can begin with:
following that one number through the months decides it, without any cost.
"""

from collections.abc import Callable
from dataclasses import replace

from pool_api.domain.errors import NeedNotMet
from pool_api.domain.planning.setting import Setting, Terms, terms_of

_WITHOUT: dict[str, Callable[[Setting], Setting]] = {
    "cash limit": lambda setting: replace(setting, cash_limit=None),
    "stock cap": lambda setting: replace(setting, stock_cap=None),
    "expiry": lambda setting: replace(setting, expiry=None),
}


def check_feasible(setting: Setting) -> None:
    """Do nothing where some plan keeps within the limits.

    Refuses: NeedNotMet with the first month whose need can't be met, what it can have at the most, and the limits:
             those without any one of which it could be met, or else all that are set."""
    failing = _first_failing(terms_of(setting))
    if failing is None:
        return
    at, most = failing
    eased = {name: ease(setting) for name, ease in _WITHOUT.items()}
    stated = [name for name, other in eased.items() if other != setting]
    alone = [name for name in stated if _goes_beyond(eased[name], at)]
    raise NeedNotMet(
        month=str(setting.months[at]),
        need=setting.totals[at],
        most=most,
        limits=alone or stated,
    )


def _goes_beyond(setting: Setting, at: int) -> bool:
    """Tell whether a month's need, and those before it, can be met."""
    failing = _first_failing(terms_of(setting))
    return failing is None or failing[0] > at


def _first_failing(terms: Terms) -> tuple[int, int] | None:
    """Give the first month whose need can't be met, and the most that can be at hand in it."""
    kept = terms.opening
    for at, need in enumerate(terms.needs):
        most = _most_at_hand(terms, at, kept)
        if most < need:
            return at, most
        kept = min(most - need, terms.useful[at])
    return None


def _most_at_hand(terms: Terms, at: int, kept: int) -> int:
    """Give the most that can be at hand in a month once its order has come, when it can begin with up to `kept`."""
    largest = max((window.most for window in terms.windows[at]), default=0)
    ordered = kept + largest if largest else kept
    return ordered if terms.stock_cap is None else max(kept, min(ordered, terms.stock_cap))
