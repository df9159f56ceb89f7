"""How figures, months and states are shown to people on paper: with commas between thousands and a minus sign."""

from decimal import Decimal
from fractions import Fraction

from pool_api.domain.values import Currency, Month

NOTHING = "–"
_MINUS = "−"


def state_words(*, closed: bool) -> str:
    """Give the words for the state of a month."""
    return "Closed" if closed else "Draft: the month is open"


def month_words(month: str) -> str:
    """Give a month as people say it, such as October 2026."""
    return f"{Month.parse(month).first:%B %Y}"


class Money:
    """Shows the amounts and unit prices of a currency as people read them."""

    def __init__(self, currency: Currency) -> None:
        self._currency = currency
        self.code = currency.code

    def text(self, minor: int) -> str:
        """Show minor units, such as −1,342.67."""
        return _figure(self._currency.text(minor))

    def unit(self, price: Fraction | None) -> str:
        """Show a unit price of minor units per credit to 4 decimals, or that there is none."""
        return NOTHING if price is None else _figure(self._currency.unit_text(price))


def count(credits: int) -> str:
    """Show credits."""
    return _figure(str(credits))


def _figure(text: str) -> str:
    return f"{Decimal(text):,}".replace("-", _MINUS)
