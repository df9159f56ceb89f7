"""Which days of which account the record on file shows completely, and therefore what its silence proves."""

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from datetime import date, timedelta

from pool_api.domain.matching.report import Coverage

Span = tuple[date, date]
"""The first and the last of days, both included."""

_DAY = timedelta(days=1)


class Covered:
    """The coverage with touching and overlapping spans joined."""

    def __init__(self, coverage: Coverage) -> None:
        self._spans = {account.casefold(): _joined(spans) for account, spans in coverage.items()}

    def spans(self, account: str) -> tuple[Span, ...]:
        """Give the spans of an account in order, with at least one day between any two."""
        return self._spans.get(account.casefold(), ())

    def on(self, account: str, day: date) -> bool:
        """Tell whether an account's record shows a day."""
        spans = self.spans(account)
        at = bisect_right(spans, day, key=lambda span: span[0])
        return at > 0 and day <= spans[at - 1][1]

    def gaps(self, account: str, within: Span) -> Iterator[Span]:
        """Give, in order, the days within some that an account's record doesn't show."""
        begins, ends = within
        for first, last in self.spans(account):
            if last >= begins and first <= ends:
                if begins < first:
                    yield begins, first - _DAY
                begins = last + _DAY
        if begins <= ends:
            yield begins, ends


def _joined(spans: Iterable[Span]) -> tuple[Span, ...]:
    found: list[Span] = []
    for first, last in sorted(spans):
        if found and first <= found[-1][1] + _DAY:
            found[-1] = (found[-1][0], max(found[-1][1], last))
        else:
            found.append((first, last))
    return tuple(found)
