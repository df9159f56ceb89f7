"""How a column profile is guessed from a table nobody has described yet: by header words first, then by the values.

A guess is an offer: the keeper sees it beside the first rows and its doubts, and confirms it. Whatever the values don't
bear out, or bear out twice, is said as a doubt; a profile is proposed only when days and quantities were found.
"""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from pool_api.domain.errors import ProfileUnfit
from pool_api.intake.cells import DayStyle, Unfit, cleaned, credits_of, day_of, is_total, shown
from pool_api.intake.profile import ROLES, Meaning, Profile
from pool_api.intake.table import Table

_SAMPLE = 2_000
_MOST_KIND_WORDS = 30
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

_KIND_STEMS = (
    (Meaning.REFUND, "refund revers undo undone storno erstatt cancel"),
    (Meaning.PURCHASE, "purchase buy bought top topup order kauf compra achat"),
    (Meaning.SENT, "sent send out abgang"),
    (Meaning.RECEIVED, "receiv in incoming eingang"),
    (Meaning.TRANSFER, "transfer move loan share übertrag transf"),
    (Meaning.USE, "use used usage spend spent consum redeem unlock calibrat activat verbrauch expir adjust"),
    (Meaning.IGNORED, "login balance"),
)
"""Beginnings of words for kinds, in the order in which they are tried: an undone use is a refund."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A guess: the column of each role that was found, the profile they make (None when they make none), and doubts."""

    columns: dict[str, str]
    profile: Profile | None
    doubts: tuple[str, ...]


def propose(table: Table, name: str) -> Proposal:
    """Guess which column of a table is what.

    Takes:   name — what the profile shall be called.
    Gives:   the same guess for the same table; its doubts in the order of a profile's fields.  Refuses: nothing.
    Source:  own rule."""
    values = {
        word: [text for row in table.rows[:_SAMPLE] if (text := cleaned(row.cells[at]))]
        for at, word in enumerate(table.header)
    }
    styles = {word: _day_styles(texts) for word, texts in values.items()}
    numbers = {word: _number_style(texts) for word, texts in values.items()}
    columns = _roles(table.header, styles, numbers)
    doubts: list[str] = []
    found: dict[str, Any] = dict(columns)
    if "day" in columns:
        found["day_style"] = _settled_day_style(columns["day"], values[columns["day"]], styles[columns["day"]], doubts)
    figures = [columns[role] for role in ("quantity", "incoming", "outgoing", "balance", "amount") if role in columns]
    found["decimal"], found["thousands"] = _shared_style([values[word] for word in figures])
    for word in figures[:2]:
        _doubt_thousands(word, values[word], found["decimal"], doubts)
    if "kind" in columns:
        found["kind_words"] = _kind_words(columns["kind"], values[columns["kind"]], doubts)
        if not found["kind_words"]:
            del found["kind"], found["kind_words"]
    if "quantity" in columns and "giver" not in columns:
        found["signed"] = _is_signed(values[columns["quantity"]], doubts)
    _doubt_gaps(columns, doubts)
    return Proposal(columns=columns, profile=_profile(name, found, doubts), doubts=tuple(doubts))


def _roles(header: tuple[str, ...], styles: dict[str, Any], numbers: dict[str, Any]) -> dict[str, str]:
    """Give each role its column: the one with the most telling header word whose values fit the role."""
    free = list(header)
    chosen: dict[str, str] = {}
    for role in _ORDER:
        fitting = [word for word in free if _fits(role, styles[word], numbers[word]) and _rank(role, word) is not None]
        if role == "day" and not fitting:
            fitting = [word for word in free if styles[word]][:1]
        if fitting:
            best = min(fitting, key=lambda word: (_rank(role, word) or (0, 0), header.index(word)))
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
    return {role: chosen[role] for role in ROLES if role in chosen}


def _rank(role: str, header_word: str) -> tuple[int, int] | None:
    """Tell how telling a header word is for a role, smaller is more; None when it isn't at all."""
    parts = re.findall(r"\w+", header_word.casefold())
    wanted = _WORDS[role].split()
    hits = [wanted.index(part) for part in parts if part in wanted]
    return (min(hits), len(parts)) if hits else None


def _fits(role: str, day_styles: Iterable[DayStyle], number_style: tuple[str, str] | None) -> bool:
    if role == "day":
        return bool(day_styles)
    if role in ("quantity", "incoming", "outgoing", "balance"):
        return number_style is not None
    if role in ("kind", "giver", "receiver", "counterparty"):
        return number_style is None and not day_styles
    return not day_styles


def _day_styles(texts: list[str]) -> list[DayStyle]:
    """Give the styles under which nine of ten texts are dates."""
    return [style for style in DayStyle if texts and 10 * _fitting(texts, day_of, style) >= 9 * len(texts)]


_NUMBER_STYLES = ((".", ""), (",", ""), (".", ","), (",", "."), (",", " "), (".", " "), (".", "'"))


def _number_style(texts: list[str]) -> tuple[str, str] | None:
    """Give the first style under which nine of ten texts are whole numbers of credits, None when there is none."""
    for decimal, thousands in _NUMBER_STYLES:
        if texts and 10 * _fitting(texts, credits_of, decimal, thousands) >= 9 * len(texts):
            return decimal, thousands
    return None


def _shared_style(columns: list[list[str]]) -> tuple[str, str]:
    """Give the style that reads the most figures of all columns together; the plain one when all read as many."""
    texts = [text for column in columns for text in column]
    return max(_NUMBER_STYLES, key=lambda style: _fitting(texts, credits_of, *style), default=_NUMBER_STYLES[0])


def _fitting(texts: list[str], reader: Callable[..., object], *style: str) -> int:
    fitting = 0
    for text in texts:
        try:
            reader(text, *style)
        except Unfit:
            continue
        fitting += 1
    return fitting


def _settled_day_style(column: str, texts: list[str], styles: list[DayStyle], doubts: list[str]) -> DayStyle:
    """Give the style, of several the one under which the days lie closest together: exports cover weeks, not years."""
    if len(styles) == 1:
        return styles[0]
    best = min(styles, key=lambda style: _days_spanned(texts, style))
    doubts.append(f"The dates of {column} can be read as {' or as '.join(styles)}; {best} is proposed.")
    return best


def _days_spanned(texts: list[str], style: DayStyle) -> int:
    days = []
    for text in texts:
        try:
            days.append(day_of(text, style))
        except Unfit:
            continue
    return (max(days) - min(days)).days


def _doubt_thousands(column: str, texts: list[str], decimal: str, doubts: list[str]) -> None:
    """Say when a figure such as 1.000 is read as one though it may be a thousand."""
    unclear = [text for text in texts if re.search(rf"\d{re.escape(decimal)}000$", text)]
    if unclear:
        doubts.append(
            f"{shown(unclear[0])} in {column} is read with {decimal!r} before decimals, so as a small number."
        )


def _kind_words(column: str, texts: list[str], doubts: list[str]) -> dict[str, Meaning]:
    found: dict[str, Meaning] = {}
    words = sorted({text.casefold() for text in texts if not is_total(text)})
    if len(words) > _MOST_KIND_WORDS:
        doubts.append(f"{column} has {len(words)} different words, too many to be kinds; it is left out.")
        return {}
    for word in words:
        meaning = _meaning(word)
        if meaning is None:
            doubts.append(f"The word {shown(word)} in {column} has no known meaning; its rows would be set aside.")
        else:
            found[word] = meaning
    return found


def _meaning(word: str) -> Meaning | None:
    parts = re.findall(r"[^\W\d_]+", word)
    for meaning, stems in _KIND_STEMS:
        if any(_begins(part, stem) for stem in stems.split() for part in parts):
            return meaning
    return None


def _begins(word: str, stem: str) -> bool:
    """Tell whether a word has the stem; one of up to three letters must be the whole word."""
    return word == stem or (len(stem) > len("top") and word.startswith(stem))


def _is_signed(texts: list[str], doubts: list[str]) -> bool:
    negative = any(text.startswith(("-", "\u2212", "(")) or text.endswith("-") for text in texts)
    if not negative:
        doubts.append("No quantity has a minus sign; which way credits went is taken from the word of the kind.")
    return negative


def _doubt_gaps(columns: dict[str, str], doubts: list[str]) -> None:
    """Say what wasn't found and what that means."""
    if "day" not in columns:
        doubts.append("No column holds dates.")
    if "quantity" not in columns and "incoming" not in columns:
        doubts.append("No column of whole numbers has a word for a quantity of credits.")
    if "kind" not in columns:
        doubts.append("No column names the kind: credits from nobody would be read as purchases, never as refunds.")
    if "giver" not in columns and "counterparty" not in columns:
        doubts.append("No column names the other account, so transfers can't be told from uses and purchases.")
    if "balance" not in columns:
        doubts.append("There is no running balance, so a row that is missing from the file can't be noticed.")


def _profile(name: str, found: dict[str, Any], doubts: list[str]) -> Profile | None:
    if "day" not in found or ("quantity" not in found and "incoming" not in found):
        return None
    try:
        return Profile(name=name, **found)
    except ProfileUnfit as unfit:
        doubts.append(f"{unfit.reason[0].upper()}{unfit.reason[1:]}.")
        return None
