"""How the columns of a vendor's file are understood, as a form: from a guess or a kept layout, and back to a profile.

The form goes by the file: for each of its columns, what it says; for each word of the column of kinds, what that means.
"""

from collections.abc import Iterable, Iterator

from pool_client.models.vendor import ColumnProfile, Proposal

from pool_web import headers
from pool_web.forms import Form

MEANINGS = (
    ("day", "the day"),
    ("kind", "what happened"),
    ("quantity", "credits, with a sign"),
    ("incoming", "credits that came in"),
    ("outgoing", "credits that went out"),
    ("counterparty", "the other account"),
    ("giver", "the account they came from"),
    ("receiver", "the account they went to"),
    ("balance", "the balance after it"),
    ("amount", "money paid"),
    ("reference", "the vendor's reference"),
    ("note", "a note"),
)
"""What a column can say, by the names of a profile."""

KINDS = (
    ("sent", "credits sent to another account"),
    ("received", "credits received from another account"),
    ("transfer", "credits sent or received, as the sign says"),
    ("purchase", "credits bought"),
    ("use", "credits used on a job"),
    ("refund", "a use taken back"),
    ("ignored", "nothing that moves credits"),
)
"""What a word in the column of kinds can mean."""

_BLANK = "blank"
"""Stands for a blank, which fields of forms lose."""

RECORDS = (
    ("history", "all that moved"),
    ("transfers", "transfers alone"),
    ("purchases", "purchases alone"),
    ("uses", "uses alone"),
)
DAY_STYLES = (
    ("iso", "2026-10-31"),
    ("d.m.y", "31.10.2026"),
    ("d/m/y", "31/10/2026"),
    ("m/d/y", "10/31/2026"),
    ("yy-m-d", "26-10-31"),
    ("named month", "31 October 2026"),
    ("yyyymmdd", "20261031"),
    ("serial", "46326, a spreadsheet's count of days"),
)
DECIMALS = ((".", "a point"), (",", "a comma"))
THOUSANDS = ((",", "commas"), (".", "points"), (_BLANK, "blanks"), ("'", "apostrophes"))

_MOST_KINDS, _MOST_ZONE = 100, 60


def texts_of_profile(found: Proposal, profile: ColumnProfile | None) -> dict[str, str]:
    """Fill the form in: as a profile says, and where there is none, as far as the guess came."""
    roles = _roles(profile) if profile else dict(found.columns)
    texts = headers.means(found.header, roles)
    known = dict(profile.kind_words) if profile else {}
    words = [*known, *_unknown(found, roles.get("kind"), known)][:_MOST_KINDS]
    for at, word in enumerate(words):
        texts |= {f"kind_{at}": word, f"kind_means_{at}": known.get(word, "")}
    style = profile or ColumnProfile(name="", day="")
    texts |= {"day_style": style.day_style, **texts_of_signs(style.decimal, style.thousands)}
    unsigned = {} if style.signed else {"unsigned": "yes"}
    return {**texts, "record": style.record, "encoding": style.encoding or "", "zone": style.zone or "", **unsigned}


def kinds_added(form: Form, found: Proposal) -> dict[str, str]:
    """Give the words that have to be asked about as well, now that another column says what happened."""
    chosen = [word for at, word in enumerate(found.header) if form[f"means_{at}"] == "kind"]
    asked = dict(kinds_of(form))
    first = max(asked, default=-1) + 1
    words = _unknown(found, chosen[0] if chosen else None, asked.values())
    return {f"kind_{at}": word for at, word in enumerate(words[: _MOST_KINDS - first], first)}


def missing(found: Proposal, profile: ColumnProfile) -> list[str]:
    """Give the columns of a profile that a file doesn't have."""
    return [word for word in _roles(profile).values() if word not in found.header]


def kinds_of(form: Form) -> Iterator[tuple[int, str]]:
    """Give the words of kinds that a form asks about, with their places."""
    for at in range(_MOST_KINDS):
        if f"kind_{at}" in form.texts:
            yield at, form.texts[f"kind_{at}"]


def profile_of(form: Form, name: str) -> ColumnProfile | None:
    """Read a profile from the form; None where something is to be mended first."""
    roles = headers.roles_in(form, MEANINGS)
    if "day" not in roles:
        form.problems["columns"] = "One of the columns has to say the day."
    kinds = {}
    for at, word in kinds_of(form) if "kind" in roles else ():
        if form[f"kind_means_{at}"]:
            kinds[word] = form.chosen(f"kind_means_{at}", headers.named(KINDS))
    record, style = form.chosen("record", headers.named(RECORDS)), form.chosen("day_style", headers.named(DAY_STYLES))
    decimal, thousands = signs_in(form)
    zone = form.text("zone", needed=False, most=_MOST_ZONE)
    if form.problems:
        return None
    return ColumnProfile(
        name=name,
        record=record,
        kind_words=kinds,
        day_style=style,
        decimal=decimal,
        thousands=thousands,
        signed=not form.ticked("unsigned"),
        encoding=form["encoding"] or None,
        zone=zone or None,
        **roles,
    )


def texts_of_signs(decimal: str, thousands: str) -> dict[str, str]:
    """Fill in how figures are written."""
    return {"decimal": decimal, "thousands": thousands.replace(" ", _BLANK)}


def signs_in(form: Form) -> tuple[str, str]:
    """Give the signs before decimals and between thousands, as the form says."""
    return form.chosen("decimal", headers.named(DECIMALS)), form["thousands"].replace(_BLANK, " ")


def _roles(profile: ColumnProfile) -> dict[str, str]:
    told = {role: getattr(profile, role) for role in headers.named(MEANINGS)}
    return {role: word for role, word in told.items() if word}


def _unknown(found: Proposal, column: str | None, known: Iterable[str]) -> list[str]:
    """Give the words among the first rows of the column of kinds that nothing is known of."""
    if column not in found.header:
        return []
    at, seen = found.header.index(column), {word.casefold() for word in known}
    words = dict.fromkeys(row[at].casefold() for row in found.rows if row[at])
    return [word for word in words if word not in seen]
