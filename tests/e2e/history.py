"""What callers asked and were told, held against the journal that came of it: whether all of it could have happened one
after the other, in the order in which it really happened.

Every recorded request is told its number, so the order is known and no search is needed. A request that was answered
before another was sent has the lower number; a read tells of no less than what was answered before it was sent, and of
no more than what was sent before it was answered; what it tells is what a model of its own says of that number; a
refusal was true at some number between; and what nobody knows the end of stands once or not at all.

Source: own rule, after Herlihy and Wing, "Linearizability: A Correctness Condition for Concurrent Objects" (1990);
the model is DESIGN's table of what each kind moves, written down again."""

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

Json = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """The answer to a request: instants of one clock, a key of its own where it records; status 0 where none came."""

    sent: float
    answered: float
    key: str | None
    status: int
    answer: Json

    @property
    def is_recorded(self) -> bool:
        return self.key is not None and self.status == 201


@dataclass(slots=True)
class State:
    """What the journal adds up to at a number."""

    stock: int = 0
    held: Counter[str] = field(default_factory=Counter)
    open: Counter[tuple[str, str]] = field(default_factory=Counter)

    def after(self, kind: str, body: Json) -> "State":
        """Give what it is after one more entry."""
        new = State(self.stock, self.held.copy(), self.open.copy())
        quantity = body.get("quantity", 0)
        match kind:
            case "purchase":
                new.stock += quantity
            case "draw":
                new.stock -= quantity
                new.held[body["member"]] += quantity
            case "loan" | "return":
                giver, taker = ("lender", "borrower") if kind == "loan" else ("borrower", "lender")
                new.held[body[giver]] -= quantity
                new.held[body[taker]] += quantity
                new.open[body["lender"], body["borrower"]] += quantity if kind == "loan" else -quantity
            case "use":
                new.held[body["member"]] -= quantity
        return new

    def says(self, answer: Json) -> bool:
        """Tell whether positions are these."""
        held = {each["member"]: each["held"] for each in answer["members"]}
        lent = {(each["lender"], each["borrower"]): each["quantity"] for each in answer["open_loans"]}
        return bool(answer["stock"] == self.stock and +Counter(held) == +self.held and +Counter(lent) == +self.open)

    def refuses(self, refusal: Json) -> bool:
        """Tell whether a refusal for what is there is true."""
        match refusal["code"]:
            case "not-enough-in-stock":
                now, said = self.stock, refusal["stock"]
            case "not-enough-held":
                now, said = self.held[refusal["member"]], refusal["held"]
            case "not-enough-open":
                now, said = self.open[refusal["lender"], refusal["borrower"]], refusal["open"]
            case _:
                return False
        return bool(said == now < refusal["quantity"])


def faults(history: Sequence[Told], entries: Sequence[Json]) -> list[str]:
    """Give, in words, what can't have happened in any order that fits; entries are the journal from the first on."""
    if [each["number"] for each in entries] != list(range(1, len(entries) + 1)):
        return ["the journal's numbers are not 1 to n"]
    states = [State()]
    for entry in entries:
        states.append(states[-1].after(entry["kind"], entry["body"]))
    by_key = {each["note"]: each["number"] for each in entries}
    if len(by_key) != len(entries):
        return ["a key stands in the journal twice"]
    bounds = _Bounds(history, by_key)
    return [*_of_recordings(history, by_key, bounds), *_of_answers(history, states, bounds)]


def _of_recordings(history: Iterable[Told], by_key: dict[str, int], bounds: "_Bounds") -> Iterator[str]:
    for told in history:
        if told.key is None:
            continue
        number = by_key.get(told.key)
        if told.is_recorded and number != told.answer["number"]:
            yield f"{told.key} was told {told.answer['number']}, but stands at {number}"
        elif not told.is_recorded and told.status and told.status < 500 and number is not None:
            yield f"{told.key} was refused, but stands at {number}"
        elif number is not None and number <= bounds.least(told.sent):
            yield f"{told.key} has number {number}, but a later one was told before it was sent"


def _of_answers(history: Iterable[Told], states: Sequence[State], bounds: "_Bounds") -> Iterator[str]:
    for told in history:
        least, most = bounds.least(told.sent), bounds.most(told.answered)
        if told.key is None and told.status == 200:
            number = told.answer["number"]
            if not least <= number <= most:
                yield f"a read tells of {number}, but could only of {least} to {most}"
            elif not states[number].says(told.answer):
                yield f"a read tells of {number} what the journal doesn't"
        elif told.status == 409 and not any(states[n].refuses(told.answer) for n in range(least, most + 1)):
            yield f"the refusal {told.answer['detail']!r} was true at no number from {least} to {most}"


class _Bounds:
    """The lowest and the highest number that anything can know of at an instant."""

    def __init__(self, history: Iterable[Told], by_key: dict[str, int]) -> None:
        told = [each for each in history if each.key in by_key]
        self._answered = _highest((each.answered, by_key[each.key or ""]) for each in told if each.is_recorded)
        self._sent = _highest((each.sent, by_key[each.key or ""]) for each in told)

    def least(self, sent: float) -> int:
        return self._at(self._answered, sent)

    def most(self, answered: float) -> int:
        return self._at(self._sent, answered)

    @staticmethod
    def _at(highest: tuple[list[float], list[int]], instant: float) -> int:
        place = bisect_left(highest[0], instant)
        return highest[1][place - 1] if place else 0


def _highest(events: Iterable[tuple[float, int]]) -> tuple[list[float], list[int]]:
    """Give the instants in order, and the highest number up to each."""
    instants, numbers, highest = [], [], 0
    for instant, number in sorted(events):
        highest = max(highest, number)
        instants.append(instant)
        numbers.append(highest)
    return instants, numbers
