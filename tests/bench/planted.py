"""An invented network's movements and the vendor's record of them, with known truth: what is whose, what is wrong.

Everything comes from one seed. Shops are of uneven size, some quantities are popular, notes are typed twice by
different hands, the vendor's clock runs behind, and faults of every kind are planted at the rates below. Nothing but
what people would see tells which row is whose: references of the vendor's own and the order of its rows are random.
"""

import random
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
    "one_record_only": 20,
}
"""Of ten thousand transfers, how many have which fault."""

OPENING = 1_000_000
_POPULAR = (5, 8, 10, 10, 10, 12, 15, 20, 20, 25, 30, 40, 50)
_WORDS = ("estate", "hatch", "diesel", "petrol", "gearbox", "stage", "one", "two", "pickup", "van", "coupe", "update")


@dataclass(frozen=True, slots=True, kw_only=True)
class Habits:
    """How a network and its vendor write: the vendor's clock against the pool's in hours; of ten thousand rows those
    dated a day off, those two to six days late, those whose reference the journal knows, and notes left empty at the
    vendor besides the usual ones; how often a note is typed anew; whether notes are typed at all; times the rates of
    faults; whether each other shop only hands in its record, all transfers being between one that does and one that
    doesn't."""

    zone_hours: int = -8
    drifting: int = 400
    late: int = 300
    cited: int = 3_000
    left_empty: int = 0
    typed: int = 1
    noted: bool = True
    faults: int = 1
    half: bool = False


@dataclass(frozen=True, slots=True)
class Transfer:
    """What happened, at so many hours past midnight."""

    day: date
    hour: float
    giver: str
    receiver: str
    quantity: int
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """A fault: entries and vendor movements that it is about."""

    fault: str
    entries: tuple[int, ...] = ()
    shown: tuple[int, ...] = ()


@dataclass(slots=True)
class Planted:
    """What the matcher is given, and the truth: pairs of entry and vendor movement, and what was planted.

    shown_of gives the vendor movement of a row by the row's identity."""

    movements: list[Movement] = field(default_factory=list)
    rows: list[VendorRow] = field(default_factory=list)
    coverage: Coverage = field(default_factory=dict)
    pairs: set[tuple[int, int]] = field(default_factory=set)
    plants: list[Plant] = field(default_factory=list)
    shown_of: dict[str, int] = field(default_factory=dict)


def planted(seed: int, count: int, *, shops: int = 40, days: int = 90, habits: Habits | None = None) -> Planted:
    """Invent so many transfers among so many shops within so many days."""
    return _Maker(random.Random(seed), shops, days, habits or Habits()).made(count)  # noqa: S311  (repeatable)


class _Maker:
    def __init__(self, chance: random.Random, shops: int, days: int, habits: Habits) -> None:
        self._chance, self._days, self._habits = chance, days, habits
        self._handles = [f"shop-{number:02d}" for number in range(shops)]
        self._sizes = [1 / (1 + number / 4) for number in range(shops)]
        self._world = Planted()
        self._facts: list[tuple[int, RowFacts]] = []
        self._shown = 0
        self._handing_in = self._handles[::2] if habits.half else self._handles

    def made(self, count: int) -> Planted:
        for _ in range(count):
            self._transfer()
        span = [(FIRST - timedelta(days=30), FIRST + timedelta(days=self._days + 30))]
        self._world.coverage = {handle: span if handle in self._handing_in else [] for handle in self._handles}
        self._number_rows()
        self._find_other_months()
        return self._world

    def _transfer(self) -> None:
        chance = self._chance
        giver, receiver = self._two_shops()
        quantity = chance.choice(_POPULAR) if chance.random() < 0.7 else chance.randint(1, 120)
        day, hour = FIRST + timedelta(days=chance.randrange(self._days)), chance.triangular(5, 22, 13)
        what = Transfer(day, hour, giver, receiver, quantity, self._note())
        fault = self._fault()
        if fault == "missing_in_journal":
            self._plant(fault, shown=(self._show(what),))
        elif fault == "missing_at_vendor":
            self._plant(fault, entries=(self._enter(what),))
        elif fault in ("split_at_vendor", "split_in_journal"):
            self._split(fault, what)
        else:
            self._pair(fault, what)

    def _pair(self, fault: str, what: Transfer) -> None:
        entry = self._enter(what)
        shown = self._show(self._mistaken(fault, what), entry=entry, once=fault == "one_record_only")
        self._world.pairs.add((entry, shown))
        if fault == "duplicate_in_journal":
            self._plant(fault, entries=(entry, self._enter(what)), shown=(shown,))
        elif fault == "duplicate_at_vendor":
            self._plant(fault, entries=(entry,), shown=(shown, self._show_again()))
        elif fault and not (fault == "one_record_only" and self._habits.half):
            self._plant(fault, entries=(entry,), shown=(shown,))

    def _mistaken(self, fault: str, what: Transfer) -> Transfer:
        if fault == "quantity":
            return replace(what, quantity=self._slipped(what.quantity))
        if fault == "counterparty":
            others = [each for each in self._others_than(what.giver) if each not in (what.giver, what.receiver)]
            return replace(what, receiver=self._chance.choice(others))
        return replace(what, giver=what.receiver, receiver=what.giver) if fault == "direction" else what

    def _split(self, fault: str, what: Transfer) -> None:
        whole = replace(what, quantity=max(what.quantity, 4))
        part = self._chance.randint(1, whole.quantity - 1)
        parts = [replace(whole, quantity=each) for each in (part, whole.quantity - part)]
        if fault == "split_at_vendor":
            later = [timedelta(days=self._chance.choice((0, 0, 1, 2))) for _ in parts]
            entries = [self._enter(whole)]
            shown = [self._show(replace(each, day=each.day + days)) for each, days in zip(parts, later, strict=True)]
        else:
            shown = [self._show(whole)]
            entries = [self._enter(each) for each in parts]
        self._world.pairs |= {(entry, each) for entry in entries for each in shown}
        self._plant(fault, entries=tuple(entries), shown=tuple(shown))

    def _plant(self, fault: str, *, entries: tuple[int, ...] = (), shown: tuple[int, ...] = ()) -> None:
        self._world.plants.append(Plant(fault=fault, entries=entries, shown=shown))

    def _enter(self, what: Transfer) -> int:
        entry = len(self._world.movements) + 1
        cited = self._chance.randrange(10_000) < self._habits.cited
        self._world.movements.append(
            Movement(
                entry=entry,
                day=what.day,
                kind=MovementKind.TRANSFER,
                giver=what.giver,
                receiver=what.receiver,
                quantity=what.quantity,
                note=what.note,
                reference=self._reference() if cited else None,
            )
        )
        return entry

    def _reference(self) -> str:
        return f"R{self._chance.getrandbits(40):010x}"

    def _show(self, what: Transfer, *, entry: int | None = None, once: bool = False) -> int:
        """Write one movement into the records of both accounts, or of the sender's only."""
        self._shown += 1
        known = self._world.movements[entry - 1].reference if entry else None
        reference = known or self._reference()
        seen, typed = self._dated(what), self._typed(what.note)
        for account in (what.giver, what.receiver)[: 1 if once and not self._habits.half else 2]:
            if account in self._handing_in:
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

    def _show_again(self) -> int:
        """Write the last movement once more, as when a form is sent twice."""
        last, self._shown = self._shown, self._shown + 1
        again = [facts for shown, facts in self._facts[-2:] if shown == last]
        reference = self._reference()
        self._facts += [(self._shown, replace(facts, reference=reference)) for facts in again]
        return self._shown

    def _number_rows(self) -> None:
        """Put each account's rows into the order of a file, with the running balance after each."""
        self._chance.shuffle(self._facts)
        files: dict[str, list[tuple[int, RowFacts]]] = {handle: [] for handle in self._handing_in}
        for shown, facts in sorted(self._facts, key=lambda each: each[1].day):
            own = files[facts.account]
            before = own[-1][1].balance if own else OPENING
            own.append((shown, replace(facts, balance=(before or 0) + facts.signed)))
        for own in files.values():
            rows = numbered((line, facts) for line, (_, facts) in enumerate(own, start=2))
            self._world.rows.extend(rows)
            self._world.shown_of.update((row.identity, shown) for row, (shown, _) in zip(rows, own, strict=True))

    def _find_other_months(self) -> None:
        days = {shown: facts.day for shown, facts in self._facts}
        for entry, shown in sorted(self._world.pairs):
            if self._world.movements[entry - 1].day.month != days[shown].month:
                self._plant("date_in_another_month", entries=(entry,), shown=(shown,))

    def _two_shops(self) -> tuple[str, str]:
        giver, receiver = self._chance.choices(self._handles, self._sizes, k=2)
        while receiver not in self._others_than(giver):
            receiver = self._chance.choices(self._handles, self._sizes)[0]
        return giver, receiver

    def _others_than(self, giver: str) -> list[str]:
        """Give the shops that a shop deals with."""
        if self._habits.half:
            return [each for each in self._handles if (each in self._handing_in) != (giver in self._handing_in)]
        return [each for each in self._handles if each != giver]

    def _fault(self) -> str:
        throw = self._chance.randrange(10_000)
        for fault, rate in RATES.items():
            if throw < rate * self._habits.faults:
                return fault
            throw -= rate * self._habits.faults
        return ""

    def _slipped(self, quantity: int) -> int:
        return self._chance.choice((quantity + 1, quantity * 10, quantity + self._chance.randint(2, 60)))

    def _dated(self, what: Transfer) -> date:
        """Date a movement as the vendor does: by its own clock, sometimes a day off, sometimes late."""
        day = what.day + timedelta(days=int((what.hour + self._habits.zone_hours) // 24))
        throw = self._chance.randrange(10_000)
        if throw < self._habits.drifting:
            return day + timedelta(days=self._chance.choice((-1, 1)))
        late = throw < self._habits.drifting + self._habits.late
        return day + timedelta(days=self._chance.randint(2, 6) if late else 0)

    def _note(self) -> str:
        if not self._habits.noted:
            return ""
        if self._chance.random() < 0.55:
            return f"order {self._chance.randrange(1000, 9999)} {self._chance.choice(_WORDS)}"
        return " ".join(self._chance.choices(_WORDS, k=2)) if self._chance.random() < 0.6 else ""

    def _typed(self, note: str) -> str:
        """Type a note again, for the vendor's form."""
        if self._chance.randrange(10_000) < self._habits.left_empty:
            return ""
        for _ in range(self._habits.typed):
            note = self._mangled(note, self._chance.random()) if note else ""
        return note

    def _mangled(self, note: str, throw: float) -> str:
        ways = (
            (0.35, note),
            (0.55, note.upper()),
            (0.65, self._mistyped(note)),
            (0.75, note[:18]),
            (0.88, "re: " + note),
        )
        return next((text for limit, text in ways if throw < limit), "")

    def _mistyped(self, note: str) -> str:
        at = self._chance.randrange(len(note))
        return note[:at] + self._chance.choice("aeiou") + note[at + 1 :]
