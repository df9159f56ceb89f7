"""Which days of which account the record on file shows completely, and therefore what its silence proves."""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, timedelta
from types import MappingProxyType

from pool_api.domain.matching.report import Coverage
from pool_api.domain.record import MovementKind, RecordType

Span = tuple[date, date]
"""The first and the last of days, both included."""

_DAY = timedelta(days=1)


NO_PARTS: Mapping[RecordType, Coverage] = MappingProxyType({})


class Covered:
    """The coverage with touching and overlapping spans joined.

    Takes:   coverage — days on which all movements are shown; parts — those on which only the kinds of one type of
             record are. Days that the parts show together are days on which all is shown."""

    def __init__(self, coverage: Coverage, parts: Mapping[RecordType, Coverage] = NO_PARTS) -> None:
        by_type = {record: _by_account(spans) for record, spans in ((RecordType.HISTORY, coverage), *parts.items())}
        self._by_kind = {
            kind: _merged(spans for record, spans in by_type.items() if kind in record.kinds) for kind in MovementKind
        }
        accounts = {account for spans in self._by_kind.values() for account in spans}
        self._whole = {
            account: _common([spans.get(account, ()) for spans in self._by_kind.values()]) for account in accounts
        }

    def spans(self, account: str) -> tuple[Span, ...]:
        """Give the spans on which all of an account is shown, in order, with at least one day between any two."""
        return self._whole.get(account.casefold(), ())

    def shows(self, account: str, kind: MovementKind) -> bool:
        """Tell whether an account's record shows the movements of a kind on any day."""
        return bool(self._by_kind[kind].get(account.casefold()))

    def on(self, account: str, day: date, kind: MovementKind) -> bool:
        """Tell whether an account's record shows the movements of a kind on a day."""
        spans = self._by_kind[kind].get(account.casefold(), ())
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


def clipped(spans: Iterable[Span], within: Span) -> Iterator[Span]:
    """Give what of spans lies within one."""
    for first, last in spans:
        found = max(first, within[0]), min(last, within[1])
        if found[0] <= found[1]:
            yield found


_Spans = dict[str, tuple[Span, ...]]


def _by_account(coverage: Coverage) -> _Spans:
    found: dict[str, list[Span]] = {}
    for account, spans in coverage.items():
        found.setdefault(account.casefold(), []).extend(spans)
    return {account: _joined(spans) for account, spans in found.items()}


def _merged(several: Iterable[_Spans]) -> _Spans:
    found: dict[str, list[Span]] = {}
    for each in several:
        for account, spans in each.items():
            found.setdefault(account, []).extend(spans)
    return {account: _joined(spans) for account, spans in found.items()}


def _common(several: list[tuple[Span, ...]]) -> tuple[Span, ...]:
    """Give the days that lie in a span of each."""
    found = several[0]
    for spans in several[1:]:
        found = tuple(
            (max(first, begin), min(last, end))
            for first, last in found
            for begin, end in spans
            if begin <= last and first <= end
        )
    return _joined(found)


def _joined(spans: Iterable[Span]) -> tuple[Span, ...]:
    found: list[Span] = []
    for first, last in sorted(spans):
        if found and first <= found[-1][1] + _DAY:
            found[-1] = (found[-1][0], max(found[-1][1], last))
        else:
            found.append((first, last))
    return tuple(found)
