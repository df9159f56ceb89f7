"""Which days of which account the record on file shows completely, and therefore what its silence proves."""

from bisect import bisect_right
from collections.abc import Iterable
from datetime import date, timedelta

from pool_api.domain.matching.report import Coverage

_DAY = timedelta(days=1)


class Covered:
    """The coverage with touching and overlapping spans joined."""

    def __init__(self, coverage: Coverage) -> None:
        self._spans = {account.casefold(): _joined(spans) for account, spans in coverage.items()}

    def spans(self, account: str) -> tuple[tuple[date, date], ...]:
        """Give the spans of an account in order, with at least one day between any two."""
        return self._spans.get(account.casefold(), ())

    def on(self, account: str, day: date) -> bool:
        """Tell whether an account's record shows a day."""
        spans = self.spans(account)
        at = bisect_right(spans, day, key=lambda span: span[0])
        return at > 0 and day <= spans[at - 1][1]


def _joined(spans: Iterable[tuple[date, date]]) -> tuple[tuple[date, date], ...]:
    found: list[tuple[date, date]] = []
    for first, last in sorted(spans):
        if found and first <= found[-1][1] + _DAY:
            found[-1] = (found[-1][0], max(found[-1][1], last))
        else:
            found.append((first, last))
    return tuple(found)
