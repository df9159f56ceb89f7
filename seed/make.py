"""Makes the generated files of seed/data from the hand-written ones: `python -m seed.make`, or with --check compares.

The vendor's true history comes first (history.py); what the shops recorded and what each of them exported is derived
from it, trouble included (trouble.py). This file knows how the three are written down: book/ holds the commands of each
month, a line each; vendor/ the exports; truth.json what a right reconciliation must come to. Same input, same bytes.
"""

import argparse
import csv
import io
import json
import random
import sys
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any, NamedTuple

from seed.history import SEED, Fact, changes, true_history
from seed.network import DATA, MONTHS, Network, read_network
from seed.trouble import TROUBLES, Shown, booked, shown

HEADER = ("Booked", "Action", "Other account", "Credits", "Remark", "Ref no", "Balance after", "Paid")

EXPORTS = (
    (date(2026, 8, 1), date(2026, 8, 31)),
    (date(2026, 8, 24), date(2026, 9, 30)),
    (date(2026, 9, 28), date(2026, 10, 31)),
)
"""The days of each shop's exports: one after every month, each going back into the month before."""

_FIRST_NUMBER, _FIRST_ORDER = 480_213, 20_817


class Row(NamedTuple):
    """A row of one account's history at the vendor."""

    day: date
    cells: tuple[str, ...]
    fact: Fact


def made_files() -> dict[Path, str]:
    """Give every generated file with its text."""
    network = read_network()
    facts = true_history(network)
    histories = _histories(network, facts)
    files = {DATA / "book" / f"{month}.jsonl": _book(network, facts, month) for month in MONTHS}
    for shop in network.shops:
        for first, last in EXPORTS:
            rows = [row.cells for row in histories[shop.handle] if first <= row.day <= last]
            files[DATA / "vendor" / export_name(shop.code, first, last)] = _csv(rows)
    files[DATA / "truth.json"] = json.dumps(_truth(network, facts, histories), indent=2) + "\n"
    return files


def export_name(code: str, first: date, last: date) -> str:
    """Give the name of an export's file."""
    return f"{code}_{first}_{last}.csv"


def _book(network: Network, facts: tuple[Fact, ...], month: str) -> str:
    """Write what the shops recorded of a month, in order of day."""
    found = [line for fact in facts if fact.name.startswith(month) and (line := booked(network, fact))]
    orders = _order_numbers(facts)
    lines = []
    for line in sorted(found, key=lambda each: each.day):
        order = {"order_number": orders[line.fact.name]} if line.fact.name in orders else {}
        about = {"reference": line.fact.name, "effective_on": line.day.isoformat(), "kind": line.fact.kind}
        lines.append(json.dumps(about | line.said | order | ({"note": line.fact.note} if line.fact.note else {})))
    return "".join(f"{line}\n" for line in lines)


def _order_numbers(facts: tuple[Fact, ...]) -> dict[str, str]:
    orders = [fact.name for fact in facts if fact.kind == "purchase"]
    return {name: f"N-{_FIRST_ORDER + 37 * at}" for at, name in enumerate(orders)}


def _histories(network: Network, facts: tuple[Fact, ...]) -> dict[str, list[Row]]:
    """Give each account's whole history at the vendor, with its running balance."""
    balances = {shop.handle: shop.held for shop in network.shops}
    balances[network.handles[network.custodian]] += network.opening["stock_quantity"]
    histories: dict[str, list[Row]] = {handle: [] for handle in balances}
    orders = _order_numbers(facts)
    # As in history.py, only random() of it is called.
    dice = random.Random(SEED + 1)  # noqa: S311 - an invented history, no secret
    ordered = sorted((each for fact in facts for each in shown(network, fact, facts)), key=lambda each: each.day)
    for number, each in enumerate(ordered, start=_FIRST_NUMBER):
        reference = orders.get(each.fact.name, f"T-{number}")
        remark = _remark(each, dice)
        for account, other, action, change in _both_sides(each):
            if account not in balances:
                continue
            balances[account] += change
            if balances[account] < 0:
                raise ValueError(f"the vendor would refuse {each}")
            day = f"{each.day:%d.%m.%Y}"
            cells = (day, action, other, f"{change:+}", remark, reference, str(balances[account]), each.paid)
            histories[account].append(Row(each.day, cells, each.fact))
    return histories


def _both_sides(each: Shown) -> Iterator[tuple[str, str, str, int]]:
    """Give account, other account, the vendor's word and signed credits, for each account that a movement touches."""
    if each.giver:
        yield each.giver, each.receiver or "", each.action or "Sent", -each.quantity
    if each.receiver:
        yield each.receiver, each.giver or "", each.action or "Received", each.quantity


def _remark(each: Shown, dice: random.Random) -> str:
    """Give what somebody typed at the vendor's site: much the same as in the book, or shorter, or nothing."""
    job = each.fact.said.get("job", "")
    note = {0: each.fact.note, 1: each.fact.note[:16].strip().upper(), 2: ""}[int(dice.random() * 3)]
    return f"{job} {note}".strip()


def _csv(rows: list[tuple[str, ...]]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([HEADER, *rows])
    return text.getvalue()


def _truth(network: Network, facts: tuple[Fact, ...], histories: dict[str, list[Row]]) -> dict[str, Any]:
    """Give what a right reconciliation must come to: the troubles, and every balance at each month's end."""
    return {
        "troubles": [
            {
                "trouble": trouble.name,
                "month": trouble.month,
                "difference": trouble.difference,
                **_traces(network, facts, histories, trouble.tag),
            }
            for trouble in TROUBLES
        ],
        "rows_in_two_exports": {
            shop.code: [_between(histories[shop.handle], EXPORTS[at][0], EXPORTS[at - 1][1]) for at in (1, 2)]
            for shop in network.shops
        },
        "balances": {month: _balances(network, facts, month) for month in MONTHS},
        "accounts": {
            month: {
                shop.code: int([row for row in histories[shop.handle] if f"{row.day:%Y-%m}" <= month][-1].cells[6])
                for shop in network.shops
            }
            for month in MONTHS
        },
    }


def _traces(
    network: Network, facts: tuple[Fact, ...], histories: dict[str, list[Row]], tag: str | None
) -> dict[str, Any]:
    """Give where a trouble stands: the book's reference, None for what isn't there, and the vendor's numbers."""
    if tag is None:
        return {"book": None, "vendor": []}
    fact = next(each for each in facts if each.tag == tag)
    rows = (row for history in histories.values() for row in history if row.fact is fact)
    return {
        "book": fact.name if booked(network, fact) else None,
        "vendor": sorted({row.cells[5] for row in rows}),
    }


def _between(history: list[Row], first: date, last: date) -> int:
    return sum(first <= row.day <= last for row in history)


def _balances(network: Network, facts: tuple[Fact, ...], month: str) -> dict[str, int]:
    held = {"stock": network.opening["stock_quantity"], **{shop.code: shop.held for shop in network.shops}}
    for fact in facts:
        for holder, change in changes(fact, facts).items() if fact.name[:7] <= month else ():
            if holder in held:
                held[holder] += change
    return held


def main() -> int:
    """Write the generated files, or with --check tell which of them are not what would be written."""
    parser = argparse.ArgumentParser(prog="python -m seed.make", description="Make the files of seed/data anew.")
    parser.add_argument("--check", action="store_true", help="compare instead of writing; 1 when a file differs")
    check = parser.parse_args().check
    files = made_files()
    there = {path for folder in ("book", "vendor") for path in (DATA / folder).glob("*")}
    stale = sorted(there - set(files)) + [
        path for path, text in files.items() if not path.exists() or path.read_bytes() != text.encode()
    ]
    for path in stale:
        print(f"{'differs' if check else 'writes'}: {path.relative_to(DATA)}")
        if not check and path in files:
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(files[path].encode())
        elif not check:
            path.unlink()
    return int(check and bool(stale))


if __name__ == "__main__":
    sys.exit(main())
