"""Which columns fill the roles that header words leave open, by what their values bear out; each is said as a doubt."""

from collections.abc import Collection, Iterator
from itertools import permutations

from pool_api.intake.evidence import Column, beside, follows, gives, net, own_account, sizes_follow
from pool_api.intake.kinds import meaning_of
from pool_api.intake.profile import ROLES

_MOST_COMPARED = 8
"""Columns of numbers that are tried with each other; beyond, telling them apart would take too long."""

_MOST_WORDS = 12


def filled_in(
    columns: dict[str, Column], by_words: dict[str, str], accounts: Collection[str], doubts: list[str]
) -> dict[str, str]:
    """Give the column of each role: those that header words gave, and those that the values give beside them."""
    search = _Search(columns, dict(by_words), accounts)
    search.run()
    for role, column in in_order(search.chosen).items():
        if role not in by_words:
            doubts.append(f"{column} is taken for the {role} because of its values{search.because.get(role, '')}.")
    return in_order(search.chosen)


def in_order(chosen: dict[str, str]) -> dict[str, str]:
    """Give roles in the order of a profile's fields."""
    return {role: chosen[role] for role in ROLES if role in chosen}


class _Search:
    """What is chosen so far, and the rest of the columns."""

    def __init__(self, columns: dict[str, Column], chosen: dict[str, str], accounts: Collection[str]) -> None:
        self._columns = columns
        self._accounts = accounts
        self.chosen = chosen
        self.because: dict[str, str] = {}

    def run(self) -> None:
        """Choose for every role that is open; the order matters, as each takes its column from the rest."""
        if "day" not in self.chosen:
            self._take("day", next((each for each in self._free() if each.day_styles), None))
        if "quantity" not in self.chosen and "incoming" not in self.chosen:
            self._choose_quantity()
        if "balance" not in self.chosen:
            self._choose_balance()
        if "giver" not in self.chosen and "counterparty" not in self.chosen:
            self._choose_accounts()
        if "kind" not in self.chosen:
            self._take("kind", next(filter(_is_kind, self._free()), None))
        self._take("amount", next((each for each in self._free() if each.is_amounts), None))
        self._take("reference", next((each for each in self._free() if each.is_codes), None))
        self._take("note", next((each for each in self._free() if each.is_prose), None))

    def _free(self) -> list[Column]:
        taken = set(self.chosen.values())
        return [each for word, each in self._columns.items() if word not in taken]

    def _take(self, role: str, column: Column | None, because: str = "") -> None:
        if column is not None and role not in self.chosen:
            self.chosen[role] = column.word
            self.because[role] = because

    def _numbers(self) -> list[Column]:
        return [each for each in self._free() if each.number_style][:_MOST_COMPARED]

    def _balances(self) -> list[Column]:
        return [self._columns[self.chosen["balance"]]] if "balance" in self.chosen else self._numbers()

    def _choose_quantity(self) -> None:
        """Look for numbers by which a balance runs on; failing that, for the only ones that can be quantities."""
        for parts, balance in self._running():
            self._take_quantity(parts, ", by which the balance runs on")
            self._take("balance", balance, ", which run on by the quantities")
            return
        numbers = self._numbers()
        signed = [each for each in numbers if any(number < 0 for number in each.numbers if number is not None)]
        pairs = [(one, other) for one, other in permutations(numbers, 2) if beside(one, other)]
        if len(signed) == 1 or len(numbers) == 1:
            self._take_quantity((signed or numbers)[:1], "")
        elif pairs:
            self._take_quantity(pairs[0], "; it may be the other way round")

    def _running(self) -> Iterator[tuple[tuple[Column, ...], Column]]:
        """Give quantities, or what comes in and what goes out, each with the balance that runs on by them."""
        numbers, balances = self._numbers(), self._balances()
        for balance in balances:
            yield from (
                ((each,), balance) for each in numbers if each is not balance and follows(balance.numbers, each.numbers)
            )
        for balance in balances:
            rest = [each for each in numbers if each is not balance]
            yield from (
                (pair, balance)
                for pair in permutations(rest, 2)
                if beside(*pair) and follows(balance.numbers, net(*pair))
            )
        for balance in balances:
            yield from (
                ((each,), balance)
                for each in numbers
                if each is not balance and sizes_follow(balance.numbers, each.numbers)
            )

    def _take_quantity(self, parts: tuple[Column, ...] | list[Column], because: str) -> None:
        for role, column in zip(("incoming", "outgoing") if len(parts) > 1 else ("quantity",), parts, strict=True):
            self._take(role, column, because)

    def _choose_balance(self) -> None:
        chosen = self.chosen
        if "incoming" in chosen:
            changes = net(self._columns[chosen["incoming"]], self._columns[chosen["outgoing"]])
        elif "quantity" in chosen:
            changes = self._columns[chosen["quantity"]].numbers
        else:
            return
        running = (
            each for each in self._numbers() if follows(each.numbers, changes) or sizes_follow(each.numbers, changes)
        )
        self._take("balance", next(running, None), ", which run on by the quantities")

    def _choose_accounts(self) -> None:
        """Take columns of known accounts: two are who gave and who received, one is the other account."""
        found = [each for each in self._free() if each.is_accounts(self._accounts)]
        if len(found) < 2 or "incoming" in self.chosen:
            self._take("counterparty", next(iter(found), None), ", accounts of members")
            return
        one, other = found[:2]
        balance = self.chosen.get("balance")
        falls = gives(one, own_account(one, other), self._columns[balance].numbers) if balance else 0
        if falls < 0:
            one, other = other, one
        because = ", accounts of members" if falls else "; it may be the other way round"
        self._take("giver", one, because)
        self._take("receiver", other, because)


def _is_kind(column: Column) -> bool:
    """Tell whether a column has few words, most of which are usual for kinds of movement."""
    words = {text.casefold() for text in column.filled}
    known = sum(meaning_of(word) is not None for word in words)
    return column.is_words and len(words) <= _MOST_WORDS and 2 * known > len(words)
