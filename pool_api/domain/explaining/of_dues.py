"""Figures of dues: `members.BIRCH.due.draws` and the other lines, the total, the gain from lending, the difference, and
who bears what is written off of the stock, `entries.9.shares.BIRCH`. Amounts are minor units."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import fields
from functools import partial

from pool_api.domain.costing import bearers
from pool_api.domain.explaining.contributions import Contributions, from_entry, handed_on
from pool_api.domain.explaining.figures import Derivation, Figures, Operand, Origin, Part, Role, Unit, summed
from pool_api.domain.explaining.of_loans import name_of, passed_on
from pool_api.domain.explaining.of_stock import outflows_of
from pool_api.domain.pool import Member
from pool_api.domain.sheets import Due, Lending, MemberSheet, OpenLoan, Sheet


def add_dues(figures: Figures, sheet: Sheet, found: Contributions, members: Sequence[Member]) -> None:
    """Add the shares of stock that was written off, and each member's lines, total, gain and difference."""
    for outflow in outflows_of(sheet.stock):
        if outflow.entry in sheet.shares:
            _add_shares(figures, outflow.entry, sheet.shares[outflow.entry], bearers(outflow.on, members))
    for member in sheet.members:
        for line in fields(Due):
            derive = partial(_line, figures, sheet, found, member.member, line.name)
            _add(figures, member, f"due.{line.name}", getattr(member.due, line.name), derive)
        _add(figures, member, "due.total", member.due.total, partial(_total, figures, member))
        _add(figures, member, "lending_gain", member.lending_gain, partial(_gain, figures, sheet, found, member))
        _add(figures, member, "difference", member.difference, partial(_difference, figures, found, member))


def member_share(code: str, weight: int) -> Operand:
    """Give a member's share, as the pool's terms have it, as an operand."""
    return Operand(role=Role.PLUS, value=weight, unit=Unit.COUNT, origin=Origin.MEMBERS, name=f"share of {code}")


def _add(figures: Figures, member: MemberSheet, part: str, value: int, derive: partial[Derivation]) -> None:
    figures.add(f"members.{member.member}.{part}", value, Unit.MONEY, derive, (member.member,))


def _add_shares(figures: Figures, entry: int, shares: Mapping[str, int], weights: Mapping[str, int]) -> None:
    name = f"entries.{entry}"
    figures.add(
        f"{name}.bearing",
        sum(weights.values()),
        Unit.COUNT,
        lambda: summed(member_share(code, weight) for code, weight in weights.items()),
    )
    parts = [
        Part(f"{name}.shares.{code}", share, weights[code], partial(member_share, code, weights[code]), (code,))
        for code, share in shares.items()
    ]
    figures.add_parts(f"{name}.cost", f"{name}.bearing", parts)


def _line(figures: Figures, sheet: Sheet, found: Contributions, code: str, line: str) -> Derivation:
    match line:
        case "brought_forward":
            return summed(handed_on(sheet, found, code, "due", f"settlement.forward.{code}"))
        case "draws":
            drawn = (each.entry for each in outflows_of(sheet.stock) if each.holder == code)
            return summed(figures.operand(Role.MINUS, f"entries.{entry}.cost", entry) for entry in drawn)
        case "loans_from_it" | "loans_to_it":
            return summed(_settled(figures, sheet, code, Role.PLUS if line == "loans_from_it" else Role.MINUS))
        case "stock_write_offs":
            borne = (entry for entry, shares in sheet.shares.items() if code in shares)
            return summed(figures.operand(Role.MINUS, f"entries.{entry}.shares.{code}", entry) for entry in borne)
        case "saving_shared":
            return summed(_shared(figures, code))
        case _:
            return summed(found.operands(f"members.{code}.due.{line}", figures, Unit.MONEY))


def _shared(figures: Figures, code: str) -> Iterator[Operand]:
    """Give a member's part of the joint order at one unit price for all, and by the rule, where it has one."""
    for role, name in ((Role.PLUS, f"saving.unit_price.{code}"), (Role.MINUS, f"saving.shares.{code}")):
        if name in figures:
            yield figures.operand(role, name)


def _settled(figures: Figures, sheet: Sheet, code: str, role: Role) -> Iterable[Operand]:
    """Give what the close settles of a member's loans: from it with role plus, to it with role minus."""
    loans = (*sheet.loans_settled, *sheet.loans_agreed)
    names: dict[str, Lending | OpenLoan] = {name_of(sheet, each): each for each in loans}
    names |= {f"left.{each.lender}.{each.borrower}": each for each in sheet.carried_settled}
    for name, each in names.items():
        if code == (each.lender if role is Role.PLUS else each.borrower):
            yield figures.operand(role, f"{name}.amount")


def _total(figures: Figures, member: MemberSheet) -> Derivation:
    lines = (f"members.{member.member}.due.{line.name}" for line in fields(Due))
    return summed(figures.operand(Role.PLUS, line) for line in lines)


def _gain(figures: Figures, sheet: Sheet, found: Contributions, member: MemberSheet) -> Derivation:
    name = f"members.{member.member}"
    undone = found.by_figure.get(f"{name}.gain_undone", ())
    got = (each for each in passed_on(sheet) if each.lender == member.member)
    return summed(
        [
            *(figures.operand(Role.PLUS, f"{name_of(sheet, each)}.amount") for each in got),
            figures.operand(Role.MINUS, f"{name}.loans_from_it.cost"),
            *(from_entry(figures, each.entry, each.source, -each.value, Unit.MONEY) for each in undone),
        ]
    )


def _difference(figures: Figures, found: Contributions, member: MemberSheet) -> Derivation:
    """Give what was given back at its original cost less what that cost now, less cost that no credits carry."""
    name = f"members.{member.member}"
    operands: list[Operand] = []
    if member.given_back.quantity:
        operands += found.operands(f"{name}.reversals_out.cost", figures, Unit.MONEY)
        operands.append(figures.operand(Role.MINUS, f"{name}.given_back.cost"))
    if not member.available.quantity:
        operands.append(figures.operand(Role.MINUS, f"{name}.available.cost"))
    return summed(operands)
