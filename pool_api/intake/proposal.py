"""How a column profile is guessed from a table nobody has described yet: by header words first, then by the values.

A guess is an offer: the keeper sees it beside the first rows and its doubts, and confirms it. Whatever the values don't
bear out, or bear out twice, is said as a doubt; a profile is proposed only when days and quantities were found. What
header words leave open is guessed in byvalues.py.
"""

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from pool_api.domain.errors import ProfileUnfit
from pool_api.domain.record import RecordType
from pool_api.intake.byvalues import filled_in, in_order
from pool_api.intake.cells import Unfit, credits_of, is_total, shown
from pool_api.intake.days import DayStyle, day_of, states_offset
from pool_api.intake.encoding import CODE_PAGES
from pool_api.intake.evidence import NUMBER_STYLES, Column, columns_of, fitting, follows, most_telling, net
from pool_api.intake.kinds import meaning_of
from pool_api.intake.profile import Meaning, Profile
from pool_api.intake.rows import Figure
from pool_api.intake.table import Table

_MOST_KIND_WORDS = 30
_MOST_NAMED = 20
_WORDS = {
    "day": "date day datum tag fecha data booked posted time when",
    "kind": "type kind action event art vorgang operation transaction",
    "giver": "from sender source giver von de",
    "receiver": "to recipient receiver destination target an nach a",
    "counterparty": "counterparty partner counterpart account with other gegenkonto konto",
    "incoming": "in incoming received added eingang credit",
    "outgoing": "out outgoing sent removed spent ausgang debit",
    "quantity": "credits quantity qty number menge anzahl change units amount",
    "balance": "balance saldo stand remaining kontostand",
    "amount": "paid price money total betrag charged cost amount",
    "reference": "reference ref id order transaction number nr referenz beleg",
    "note": "note notes comment memo description remark text message bemerkung notiz details job",
}
"""Words of header cells by role, the more telling ones first."""

_ORDER = (
    "balance",
    "day",
    "giver",
    "receiver",
    "counterparty",
    "incoming",
    "outgoing",
    "note",
    "reference",
    "kind",
    "quantity",
    "amount",
)
"""The roles in the order in which they choose among the columns."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A guess: the column of each role that was found, the profile they make (None when they make none), and doubts."""

    columns: dict[str, str]
    profile: Profile | None
    doubts: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is known beside the file: accounts of the pool's members, the type of record, the zone of its instants."""

    accounts: Collection[str] = ()
    record: RecordType = RecordType.HISTORY
    zone: str | None = None


def propose(table: Table, name: str, known: Known | None = None) -> Proposal:
    """Guess which column of a table is what.

    Takes:   name — what the profile shall be called.
    Gives:   the same guess for the same table; its doubts in the order of a profile's fields.  Refuses: nothing.
    Source:  own rule."""
    known = known or Known()
    columns = columns_of(table)
    doubts = _doubts_of_the_file(table)
    by_words = _roles(columns) if table.headed else {}
    chosen = filled_in(columns, by_words, known.accounts, doubts)
    found: dict[str, Any] = {**chosen, "record": known.record}
    if table.encoding in CODE_PAGES:
        found["encoding"] = table.encoding
    if "day" in chosen:
        found |= _day_style(columns[chosen["day"]], known.zone, doubts)
    figures = [columns[chosen[role]] for role in _FIGURES if role in chosen]
    found["decimal"], found["thousands"] = _shared_style(figures)
    for column in figures[:2]:
        _doubt_thousands(column, found["decimal"], doubts)
    if "kind" in chosen:
        found["kind_words"] = _kind_words(columns[chosen["kind"]], doubts)
        if not found["kind_words"]:
            del found["kind"], found["kind_words"]
    if "quantity" in chosen and "giver" not in chosen:
        found["signed"] = _is_signed(columns[chosen["quantity"]], known.record, doubts)
    _doubt_balance(columns, chosen, doubts)
    _doubt_gaps(chosen, known.record, doubts)
    return Proposal(columns=chosen, profile=_profile(name, found, doubts), doubts=tuple(doubts))


_FIGURES = ("quantity", "incoming", "outgoing", "balance", "amount")


def _doubts_of_the_file(table: Table) -> list[str]:
    doubts = []
    if table.other_sheets:
        doubts.append(
            f"The sheet {table.sheet} is read; there are others: {', '.join(table.other_sheets[:_MOST_NAMED])}."
        )
    if table.encoding in CODE_PAGES:
        doubts.append(
            f"The text isn't UTF-8; it is read as {table.encoding}, which is likeliest: check special letters."
        )
    if not table.headed:
        doubts.append("There is no header; columns are called by their places, and all is guessed from the values.")
    if table.skipped:
        doubts.append(f"{len(table.skipped)} rows above the header are left out: check that no movement is among them.")
    if table.ragged:
        doubts.append(f"{len(table.ragged)} rows have another number of cells than the rest; they would be set aside.")
    return doubts


def _roles(columns: dict[str, Column]) -> dict[str, str]:
    """Give each role its column: the one with the most telling header word whose values fit the role."""
    free = list(columns)
    chosen: dict[str, str] = {}
    for role in _ORDER:
        best = most_telling(_WORDS[role], [word for word in free if _fits(role, columns[word])])
        if best:
            chosen[role] = best
            free.remove(best)
    for one, other in (("giver", "receiver"), ("incoming", "outgoing")):
        if (one in chosen) != (other in chosen):
            chosen.pop(one, None)
            chosen.pop(other, None)
    if "incoming" in chosen:
        chosen.pop("quantity", None)
    if "giver" in chosen:
        chosen.pop("counterparty", None)
    return in_order(chosen)


def _fits(role: str, column: Column) -> bool:
    if role == "day":
        return bool(column.day_styles)
    if role in {"quantity", "incoming", "outgoing", "balance"}:
        return column.number_style is not None
    if role in {"kind", "giver", "receiver", "counterparty"}:
        return column.number_style is None and not column.day_styles
    return not column.day_styles or column.number_style is not None


def _shared_style(columns: Sequence[Column]) -> tuple[str, str]:
    """Give the style that reads the most figures of all columns together; the plain one when all read as many."""
    texts = [text for column in columns for text in column.filled]
    return max(NUMBER_STYLES, key=lambda style: fitting(texts, credits_of, *style))


def _day_style(column: Column, zone: str | None, doubts: list[str]) -> dict[str, Any]:
    """Give the style of the days, and the zone in which they count where they are instants."""
    found: dict[str, Any] = {"day_style": _settled_day_style(column, doubts)}
    if zone and 2 * sum(map(states_offset, column.filled)) > len(column.filled):
        found["zone"] = zone
        doubts.append(
            f"{column.word} tells instants; their days are counted in {zone}: state the vendor's zone if it differs."
        )
    return found


def _settled_day_style(column: Column, doubts: list[str]) -> DayStyle:
    """Give the style, of several the one under which the days lie closest together: exports cover weeks, not years."""
    styles = column.day_styles
    best = min(styles, key=lambda style: _days_spanned(column, style))
    if len(styles) > 1:
        doubts.append(f"The dates of {column.word} can be read as {' or as '.join(styles)}; {best} is proposed.")
    if best is DayStyle.SERIAL:
        doubts.append(f"{column.word} holds bare numbers; they are read as a spreadsheet's count of days since 1900.")
    return best


def _days_spanned(column: Column, style: DayStyle) -> int:
    days = []
    for text in column.filled:
        try:
            days.append(day_of(text, style))
        except Unfit:
            continue
    return (max(days) - min(days)).days


def _doubt_thousands(column: Column, decimal: str, doubts: list[str]) -> None:
    """Say when a figure such as 1.000 is read as one though it may be a thousand."""
    unclear = [t for t in column.filled if not isinstance(t, Figure) and re.search(rf"\d{re.escape(decimal)}000$", t)]
    if unclear:
        doubts.append(
            f"{shown(unclear[0])} in {column.word} is read with {decimal!r} before decimals, so as a small number."
        )


def _kind_words(column: Column, doubts: list[str]) -> dict[str, Meaning]:
    found: dict[str, Meaning] = {}
    words = sorted({text.casefold() for text in column.filled if not is_total(text)})
    if len(words) > _MOST_KIND_WORDS:
        doubts.append(f"{column.word} has {len(words)} different words, too many to be kinds; it is left out.")
        return {}
    for word in words:
        meaning = meaning_of(word)
        if meaning is None:
            doubts.append(f"The word {shown(word)} in {column.word} has no known meaning; its rows would be set aside.")
        else:
            found[word] = meaning
    return found


def _is_signed(column: Column, record: RecordType, doubts: list[str]) -> bool:
    """Tell whether signs say which way credits went; in a record of one way it says it only where most take some."""
    negative = sum(text.startswith(("-", "\u2212", "(")) or text.endswith("-") for text in column.filled)
    if record.one_way:
        return record is RecordType.USES and 2 * negative > len(column.filled)
    if not negative:
        doubts.append("No quantity has a minus sign; which way credits went is taken from the word of the kind.")
    return bool(negative)


def _doubt_balance(columns: dict[str, Column], chosen: dict[str, str], doubts: list[str]) -> None:
    """Say when balances don't run on by the quantities, where these have a direction of their own."""
    if "balance" not in chosen or "giver" in chosen:
        return
    balances = columns[chosen["balance"]].numbers
    if "incoming" in chosen:
        changes = net(columns[chosen["incoming"]], columns[chosen["outgoing"]])
    elif "quantity" in chosen:
        changes = columns[chosen["quantity"]].numbers
    else:
        return
    signed = any(change < 0 for change in changes if change is not None)
    if signed and len(balances) > 2 and not follows(balances, changes):
        doubts.append(
            f"{chosen['balance']} doesn't run on by the quantities: a column may be misread, or rows are missing."
        )


def _doubt_gaps(chosen: dict[str, str], record: RecordType, doubts: list[str]) -> None:
    """Say what wasn't found and what that means."""
    if "day" not in chosen:
        doubts.append("No column holds dates.")
    if "quantity" not in chosen and "incoming" not in chosen:
        doubts.append("No column of whole numbers can be told to be a quantity of credits.")
    if record is RecordType.HISTORY:
        if "kind" not in chosen:
            doubts.append("No column names the kind: credits from nobody would be read as purchases, never as refunds.")
        if "giver" not in chosen and "counterparty" not in chosen:
            doubts.append("No column names the other account, so transfers can't be told from uses and purchases.")
    if "balance" not in chosen:
        doubts.append("There is no running balance, so a row that is missing from the file can't be noticed.")


def _profile(name: str, found: dict[str, Any], doubts: list[str]) -> Profile | None:
    if "day" not in found or ("quantity" not in found and "incoming" not in found):
        return None
    try:
        return Profile(name=name, **found)
    except ProfileUnfit as unfit:
        doubts.append(f"{unfit.reason[0].upper()}{unfit.reason[1:]}.")
        return None
