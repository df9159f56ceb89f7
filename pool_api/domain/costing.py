"""How a month's entries become its sheet.

Promises: a sheet is a function of the opening position, what the month's entries add up to, the original amounts that
its reversals need, and the pool's terms. To the minor unit, whatever was recorded and however late: the dues add up to
the cost of the closing stock; all cost that came in is in stock, with members, used or written off, less lending gains
and differences.

This file shares write-offs of stock and puts the parts together. What each kind of entry does stands in effects.py, how
the stock flows in stock.py, what becomes of loans in lending.py, how cost blends within a member in blending.py, what a
sheet says in sheets.py.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from pool_api.domain.activity import Activity
from pool_api.domain.blending import Blend, blend
from pool_api.domain.effects import OpenChange, Original, Tallies, plus
from pool_api.domain.entries import Loan, Opening, OpeningMember, Return, Reversal
from pool_api.domain.ladder import Ladder
from pool_api.domain.layers import Costed, Movement
from pool_api.domain.lending import MonthLoans, month_loans
from pool_api.domain.pool import LoanPrice, Member, Policy, SavingRule
from pool_api.domain.reversals import Divisible, Fact, Part, Standing, split
from pool_api.domain.sharing import SharedSaving, shared_saving
from pool_api.domain.sheets import Lending, OpenLoan, Position, Sheet, SheetWarning
from pool_api.domain.stock import StockMonth, flow, opened, spells, undone
from pool_api.domain.values import STOCK, Currency, Month, apportion, half_up


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What a month is costed under, entries apart; members are all of the pool, those who left too; ladder is the one
    of the month's last day, or that by which its close froze a saving as shared."""

    policy: Policy
    members: Sequence[Member]
    currency: Currency
    ladder: Ladder | None = None


def month_sheet(
    *,
    month: Month,
    opening: Position,
    activity: Activity,
    originals: Mapping[int, Original],
    terms: Terms,
) -> Sheet:
    """Cost one month.

    Takes:   opening, what the month before left; activity, of the month's entries; originals of the earlier months'
             entries that they reverse.
    Gives:   the sheet, for an open month as far as it has come.
    Refuses: nothing: what is missing or impossible is a warning; a sheet that has an obstacle can't be closed."""
    position, tallies = _tallied(opening, activity)
    taken_back, parts = _undo(tallies, activity.later, originals)
    stock = flow(month, position.stock, activity.movements() + taken_back, terms.policy.stock_costing)
    shares = _take_from_stock(tallies, stock, terms.members)
    price = position.price if stock.price is None else stock.price
    loans = month_loans(tallies, terms.policy, price, terms.currency)
    saving = _settle(month, tallies, loans, terms)
    loans, blends = _blended(tallies, loans, terms.members)
    return Sheet(
        month=month,
        policy=terms.policy,
        weights={each.code: each.share for each in terms.members},
        member_days={each.code: (each.joined_on, each.left_on) for each in terms.members},
        opening=position,
        price=price,
        stock=stock,
        loans_settled=loans.settled,
        loans_carried=loans.carried,
        loans_returned=loans.returned,
        loans_agreed=loans.agreed,
        carried_settled=loans.carried_settled,
        open_loans=loans.open,
        without_supply=loans.without_supply,
        members=tuple(each.sheet for each in blends),
        costs=_costs(stock, blends),
        shares=shares,
        reversed=parts,
        warnings=tuple(sorted(_warnings(month, position, tallies, stock), key=lambda each: (each.on, each.holder))),
        saving=saving,
    )


def originals(sheet: Sheet, entries: Iterable[Fact], earlier: Mapping[int, Original]) -> dict[int, Original]:
    """Give what reversals in the months after a sheet's take their parts of.

    Takes:   the sheet; the entries effective in its month (those that are never reversed may be left out, the reversals
             may not); earlier, the same as of the month before.
    Gives:   by entry number, the original amounts of the entries of this month and of earlier ones."""
    standing, reversals = split(entries)
    found = dict(earlier)
    for reversal in reversals:
        if isinstance(reversal.body, Reversal) and (original := found.get(reversal.body.entry)):
            found[reversal.body.entry] = original.without(reversal.body.quantity or 1)
    value_of = _pair_values(sheet)
    agreed = {each.entry: each for each in sheet.loans_agreed}
    for entry, quantity, amount in standing:
        match entry.body:
            case Loan(unit_price=None) as loan:
                value, cost = value_of(loan.lender, loan.borrower, quantity)
            case Return() as back:
                value, cost = value_of(back.borrower, back.lender, quantity)
            case Loan():
                value, cost = agreed[entry.number].amount, agreed[entry.number].cost
            case _:
                value, cost = amount, sheet.costs.get(entry.number, amount)
        found[entry.number] = Original(
            body=entry.body,
            value=Divisible(quantity=quantity or 1, amount=value),
            cost=Divisible(quantity=quantity or 1, amount=cost),
            shares=sheet.shares.get(entry.number, {}),
        )
    return found


def _pair_values(sheet: Sheet) -> Callable[[str, str, int], tuple[int, int]]:
    """Give what tells, for credits that one member passed to another by a loan or return, their value and what they had
    cost the giver: as what went that way on balance, or by the value of what went the other way and was offset with
    them. Where nothing did on balance, credits have the pool's price, or what they cost the giver where the lender's
    price counts."""
    passed: dict[tuple[str, str], list[Lending]] = {}
    for each in (*sheet.loans_settled, *sheet.loans_carried, *sheet.loans_returned):
        passed.setdefault((each.lender, each.borrower), []).append(each)
    blended = {each.member: each.unit_cost for each in sheet.members}

    def value_of(giver: str, receiver: str, quantity: int) -> tuple[int, int]:
        own = passed.get((giver, receiver))
        usual = blended[giver] if sheet.policy.loan_price is LoanPrice.LENDER else sheet.price
        value = half_up(_unit_price(own or passed.get((receiver, giver)), usual) * quantity)
        if own is None:
            return value, value
        cost, credits = sum(each.cost for each in own), sum(each.quantity for each in own)
        return value, half_up(Fraction(cost * quantity, credits))

    return value_of


def _unit_price(passed: Sequence[Lending] | None, usual: Fraction | None) -> Fraction:
    """Give the unit price of what was passed, usual where nothing was; 0 where there is no price at all."""
    if not passed:
        return usual or Fraction()
    if len(passed) == 1:
        return passed[0].unit_price or Fraction()
    return Fraction(sum(each.amount for each in passed), sum(each.quantity for each in passed))


def _opened(opening: Position, standing: Sequence[Standing]) -> Position:
    """Give the position that the month begins with: what the month before left and what an opening entry says."""
    found = {each.member: each for each in opening.members}
    loans = list(opening.loans)
    for entry, _, _ in standing:
        if isinstance(entry.body, Opening):
            loans += [
                OpenLoan(lender=each.lender, borrower=each.borrower, quantity=each.quantity, value=None)
                for each in entry.body.loans
            ]
            for each in entry.body.members:
                there = found.get(each.member, OpeningMember(member=each.member, held=0, cost=0, due=0))
                found[each.member] = OpeningMember(
                    member=each.member,
                    held=there.held + each.held,
                    cost=there.cost + each.cost,
                    due=there.due + each.due,
                )
    return Position(
        members=tuple(found[code] for code in sorted(found)),
        loans=tuple(loans),
        stock=opened(opening.stock, standing),
        price=opening.price,
    )


def _tallied(opening: Position, activity: Activity) -> tuple[Position, Tallies]:
    """Give what the month begins with, and all that its entries add up to beside it."""
    position, tallies = _opened(opening, activity.openings()), Tallies()
    for each in position.members:
        tally = tallies.members[each.member]
        tally.opening = Costed(each.held, each.cost)
        tally.due["brought_forward"] = each.due
    for loan in position.loans:
        if loan.value is not None:
            tallies.carried.append(OpenChange(loan.lender, loan.borrower, loan.quantity, loan.value))
            continue
        lender, borrower = tallies.members[loan.lender], tallies.members[loan.borrower]
        lender.opening = plus(lender.opening, loan.quantity, 0)
        borrower.opening = plus(borrower.opening, -loan.quantity, 0)
        tallies.open[loan.lender, loan.borrower] += loan.quantity
    activity.add_to(tallies)
    return position, tallies


def _undo(
    tallies: Tallies, reversals: Iterable[Fact], originals: Mapping[int, Original]
) -> tuple[list[Movement], dict[int, Part]]:
    """Bring reversals of earlier months' entries to the members. Gives what they move in stock, and each one's part.

    Each takes its part of what the one before left."""
    moved, parts = [], dict[int, Part]()
    left = dict(originals)
    for reversal in reversals:
        if isinstance(reversal.body, Reversal):
            of, quantity = reversal.body.entry, reversal.body.quantity or 1
            part, body = left[of].part(quantity), left[of].body
            parts[reversal.number] = part
            tallies.undo(reversal.effective_on, body, part, still_open=reversal.body.still_open)
            moved.append(undone(reversal, of, body, Costed(part.quantity, part.cost)))
            left[of] = left[of].without(quantity)
    return [each for each in moved if each], parts


def _take_from_stock(tallies: Tallies, stock: StockMonth, members: Iterable[Member]) -> dict[int, dict[str, int]]:
    """Bring the cost of what left the stock to the members. Gives who bears each write-off of stock."""
    arrived, costs = Counter[str](), Counter[str]()
    for each in stock.outflows:
        arrived[each.holder] += each.quantity
    for each in (*stock.late, *stock.outflows):
        costs[each.holder] += each.cost
    for code in (code for code in costs if code != STOCK):
        tally = tallies.members[code]
        tally.draws = plus(tally.draws, arrived[code], costs[code])
        tally.due["draws"] -= costs[code]
    written_off = (each for each in (*stock.late, *stock.outflows) if each.holder == STOCK)
    shares = {each.entry: _shares(each.cost, each.on, members) for each in written_off}
    for borne in shares.values():
        for code, share in borne.items():
            tallies.members[code].due["stock_write_offs"] -= share
    return shares


def bearers(on: date, members: Iterable[Member]) -> dict[str, int]:
    """Give who bears what is written off of the stock on a day, with their weights, in order of code: the members of
    that day by their shares; equally when none of them has one."""
    present = sorted((each.code, each.share) for each in members if each.is_in(on)) or [
        (each.code, 1) for each in members
    ]
    return dict(present) if any(share for _, share in present) else dict.fromkeys((code for code, _ in present), 1)


def _shares(cost: int, on: date, members: Iterable[Member]) -> dict[str, int]:
    weights = bearers(on, members)
    return dict(zip(weights, apportion(cost, [*weights.values()]), strict=True))


def _settle(month: Month, tallies: Tallies, loans: MonthLoans, terms: Terms) -> SharedSaving | None:
    """Bring to the dues what the close settles in money, and give how a saving is shared."""
    settled = [(each.borrower, each.lender, each.amount) for each in (*loans.settled, *loans.agreed)]
    settled += [(each.borrower, each.lender, each.value or 0) for each in loans.carried_settled]
    for borrower, lender, amount in settled:
        tallies.owe("loans_to_it", borrower, "loans_from_it", lender, amount)
    return _share_saving(month, tallies, terms)


def _share_saving(month: Month, tallies: Tallies, terms: Terms) -> SharedSaving | None:
    """Bring to the dues by how much the policy's rule shares the cost of what was drawn, as one order, otherwise than
    at one unit price. Purchases into members' own hands and loans are their own affair: nobody else pays for them."""
    drawn = ((code, tally.draws.quantity) for code, tally in sorted(tallies.members.items()))
    taken = tuple((code, quantity) for code, quantity in drawn if quantity)
    rule = terms.policy.saving_rule
    if rule is SavingRule.UNIT_PRICE or terms.ladder is None or not taken:
        return None
    saving = shared_saving(taken, terms.ladder, rule, str(month))
    for each in saving.members:
        tallies.members[each.member].due["saving_shared"] = each.charge
    return saving


def _blended(tallies: Tallies, loans: MonthLoans, members: Iterable[Member]) -> tuple[MonthLoans, list[Blend]]:
    """Blend each member's month, in order of code, and give the loans with what their credits had cost."""
    lent: dict[str, list[Lending]] = {}
    borrowed: dict[str, list[Lending]] = {}
    for each in loans.moved:
        lent.setdefault(each.lender, []).append(each)
        borrowed.setdefault(each.borrower, []).append(each)
    codes = sorted({*tallies.members, *(each.code for each in members)})
    blends = [blend(code, tallies.members[code], lent.get(code, ()), borrowed.get(code, ())) for code in codes]
    return loans.at_cost(_lent_costs(loans, blends)), blends


def _lent_costs(loans: MonthLoans, blends: Iterable[Blend]) -> Iterator[int]:
    """Give what the credits of each of the loans, in their order, had cost who gave them."""
    by_giver = {each.sheet.member: iter(each.lent_costs) for each in blends}
    return (next(by_giver[each.lender]) for each in loans.moved)


def _costs(stock: StockMonth, blends: Iterable[Blend]) -> dict[int, int]:
    """Give the cost of each entry that credits left by, in order of number."""
    costs = {each.entry: each.cost for each in stock.outflows}
    for blended in blends:
        costs |= blended.costs
    return {entry: costs[entry] for entry in sorted(costs)}


def _warnings(month: Month, position: Position, tallies: Tallies, stock: StockMonth) -> Iterator[SheetWarning]:
    """Give what is missing or dated wrong: who was below zero, by the balance at the end of each day, and the stock."""
    held = {each.member: each.held for each in position.members}
    for code, tally in tallies.members.items():
        balance = held.get(code, 0)
        balances = [(month.first, balance)]
        for day in sorted(tally.days):
            balance += tally.days[day]
            balances.append((day, balance))
        yield from (SheetWarning("below_zero", each.on, code, each.size) for each in spells(balances))
    yield from (SheetWarning("below_zero", each.on, STOCK, each.size) for each in stock.shortages)
    yield from (SheetWarning("stock_cost_impossible", each.on, STOCK, each.cost) for each in stock.impossible)
