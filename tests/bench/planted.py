"""An invented network's movements and the vendor's record of them, with known truth: what is whose, what is wrong.

Everything comes from one seed. Shops are of uneven size, some quantities are popular, notes are typed twice by
different hands, the vendor's clock runs behind, and faults of every kind are planted at the rates below.
"""

import random
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from pool_api.domain.matching import Coverage, Movement
from pool_api.domain.record import MovementKind, RowFacts, VendorRow, numbered

FIRST = date(2026, 7, 1)

RATES = {
    "missing_in_journal": 100,
    "missing_at_vendor": 100,
    "duplicate_in_journal": 40,
    "duplicate_at_vendor": 40,
    "quantity": 100,
    "counterparty": 50,
    "direction": 30,
    "split_at_vendor": 80,
    "split_in_journal": 40,
}
"""Of ten thousand transfers, how many have which fault."""

_POPULAR = (5, 8, 10, 10, 10, 12, 15, 20, 20, 25, 30, 40, 50)
_WORDS = ("estate", "hatch", "diesel", "petrol", "gearbox", "stage", "one", "two", "pickup", "van", "coupe", "update")


@dataclass(frozen=True, slots=True)
class Transfer:
    """What happened."""

    day: date
    giver: str
    receiver: str
    quantity: int
    note: str


@dataclass(slots=True)
class Planted:
    """What the matcher is given, and the truth: pairs of entry and vendor movement, and the fault of each faulty one.

    shown_of gives the vendor movement of a row by the row's identity."""

    movements: list[Movement] = field(default_factory=list)
    rows: list[VendorRow] = field(default_factory=list)
    coverage: Coverage = field(default_factory=dict)
    pairs: set[tuple[int, int]] = field(default_factory=set)
    faults: dict[tuple[str, int], str] = field(default_factory=dict)
    shown_of: dict[str, int] = field(default_factory=dict)


def planted(seed: int, count: int, *, shops: int = 40, days: int = 90) -> Planted:
    """Invent so many transfers among so many shops within so many days."""
    return _Maker(random.Random(seed), shops, days).made(count)  # noqa: S311  (repeatable, not secret)


class _Maker:
    def __init__(self, chance: random.Random, shops: int, days: int) -> None:
        self._chance = chance
        self._handles = [f"shop-{number:02d}" for number in range(shops)]
        self._sizes = [1 / (1 + number / 4) for number in range(shops)]
        self._days = days
        self._world = Planted()
        self._facts: list[tuple[int, RowFacts]] = []
        self._shown = 0

    def made(self, count: int) -> Planted:
        for _ in range(count):
            self._transfer()
        first, last = FIRST - timedelta(days=30), FIRST + timedelta(days=self._days + 30)
        self._world.coverage = {handle: [(first, last)] for handle in self._handles}
        self._number_rows()
        return self._world

    def _transfer(self) -> None:
        chance = self._chance
        giver, receiver = self._two_shops()
        quantity = chance.choice(_POPULAR) if chance.random() < 0.7 else chance.randint(1, 120)
        day = FIRST + timedelta(days=chance.randrange(self._days))
        what = Transfer(day, giver, receiver, quantity, self._note())
        fault = self._fault()
        if fault == "missing_in_journal":
            self._mark("row", self._show(what), fault)
        elif fault == "missing_at_vendor":
            self._mark("entry", self._enter(what), fault)
        elif fault in ("split_at_vendor", "split_in_journal"):
            self._split(fault, what)
        else:
            self._pair(fault, what)

    def _pair(self, fault: str, what: Transfer) -> None:
        entry = self._enter(what)
        seen = what
        if fault == "quantity":
            seen = replace(what, quantity=self._slipped(what.quantity))
        elif fault == "counterparty":
            others = [each for each in self._handles if each not in (what.giver, what.receiver)]
            seen = replace(what, receiver=self._chance.choice(others))
        elif fault == "direction":
            seen = replace(what, giver=what.receiver, receiver=what.giver)
        shown = self._show(seen, entry=entry)
        self._world.pairs.add((entry, shown))
        if fault == "duplicate_in_journal":
            self._mark("entry", self._enter(what), fault)
        elif fault == "duplicate_at_vendor":
            self._mark("row", self._show(what), fault)
        elif fault:
            self._mark("entry", entry, fault)

    def _split(self, fault: str, what: Transfer) -> None:
        whole = replace(what, quantity=max(what.quantity, 4))
        part = self._chance.randint(1, whole.quantity - 1)
        parts = [replace(whole, quantity=each) for each in (part, whole.quantity - part)]
        if fault == "split_at_vendor":
            entry = self._enter(whole)
            for each in parts:
                later = replace(each, day=each.day + timedelta(days=self._chance.choice((0, 0, 1, 2))))
                self._world.pairs.add((entry, self._show(later)))
        else:
            shown = self._show(whole)
            for each in parts:
                self._world.pairs.add((self._enter(each), shown))

    def _enter(self, what: Transfer) -> int:
        entry = len(self._world.movements) + 1
        reference = f"R{entry:06d}" if self._chance.random() < 0.3 else None
        self._world.movements.append(
            Movement(
                entry=entry,
                day=what.day,
                kind=MovementKind.TRANSFER,
                giver=what.giver,
                receiver=what.receiver,
                quantity=what.quantity,
                note=what.note,
                reference=reference,
            )
        )
        return entry

    def _show(self, what: Transfer, *, entry: int | None = None) -> int:
        """Write one movement into both accounts' records."""
        self._shown += 1
        known = self._world.movements[entry - 1].reference if entry else None
        reference = known or f"V{self._shown:06d}"
        seen, typed = self._dated(what.day), self._typed(what.note)
        for account in (what.giver, what.receiver):
            facts = RowFacts(
                account=account,
                day=seen,
                kind=MovementKind.TRANSFER,
                giver=what.giver,
                receiver=what.receiver,
                quantity=what.quantity,
                note=typed,
                reference=reference,
            )
            self._facts.append((self._shown, facts))
        return self._shown

    def _number_rows(self) -> None:
        for handle in self._handles:
            own = [(shown, facts) for shown, facts in self._facts if facts.account == handle]
            own.sort(key=lambda each: each[1].day)
            rows = numbered((line, facts) for line, (_, facts) in enumerate(own, start=2))
            self._world.rows.extend(rows)
            self._world.shown_of.update((row.identity, shown) for row, (shown, _) in zip(rows, own, strict=True))

    def _mark(self, what: str, number: int, fault: str) -> None:
        self._world.faults[(what, number)] = fault

    def _two_shops(self) -> tuple[str, str]:
        giver, receiver = self._chance.choices(self._handles, self._sizes, k=2)
        while receiver == giver:
            receiver = self._chance.choices(self._handles, self._sizes)[0]
        return giver, receiver

    def _fault(self) -> str:
        throw = self._chance.randrange(10_000)
        for fault, rate in RATES.items():
            if throw < rate:
                return fault
            throw -= rate
        return ""

    def _slipped(self, quantity: int) -> int:
        return self._chance.choice((quantity + 1, quantity * 10, quantity + self._chance.randint(2, 60)))

    def _dated(self, day: date) -> date:
        """Date a movement as the vendor does: by a clock far in the west, sometimes a day off, sometimes late."""
        throw = self._chance.random()
        if throw < 0.08:
            return day - timedelta(days=1)
        if throw < 0.12:
            return day + timedelta(days=self._chance.choice((-1, 1)))
        return day + timedelta(days=self._chance.randint(2, 6)) if throw < 0.15 else day

    def _note(self) -> str:
        if self._chance.random() < 0.55:
            return f"order {self._chance.randrange(1000, 9999)} {self._chance.choice(_WORDS)}"
        return " ".join(self._chance.choices(_WORDS, k=2)) if self._chance.random() < 0.6 else ""

    def _typed(self, note: str) -> str:
        """Type a note again, for the vendor's form."""
        return next(self._habits(note, self._chance.random())) if note else ""

    def _habits(self, note: str, throw: float) -> Iterator[str]:
        if throw < 0.35:
            yield note
        if throw < 0.55:
            yield note.upper()
        if throw < 0.65:
            at = self._chance.randrange(len(note))
            yield note[:at] + self._chance.choice("aeiou") + note[at + 1 :]
        if throw < 0.75:
            yield note[:18]
        if throw < 0.88:
            yield "re: " + note
        yield ""
