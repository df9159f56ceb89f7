"""A month against the vendor's record: what differs, mended or let stand; matches, the proof, sign-off."""

from collections.abc import Awaitable, Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from pool_client.errors import Misused, PoolError, Refused, Stale
from pool_client.models.entries import Entry, Reversal
from pool_client.models.vendor import Difference, Match, Reconciliation, Row
from starlette.responses import Response

from pool_web import mends
from pool_web.forms import MOST_NOTE, Form
from pool_web.sentences import credits_of, row_words
from pool_web.visit import Visit, deed, form, listed, page, to, together

_A_PAGE = 15
_MATCHES_A_PAGE = 50
_MOST_REASON = 100
_MOST_DECIDED = 100
_MOVED = "The book or the record has moved since you looked, so nothing was signed. This is how the month stands now."
_AS_SHOWN = "as the vendor shows"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """A difference or a match with what stands on either side: entries of the book, rows of the vendor's; the form that
    mends or confirms it; and the form about it that came back, to be mended itself."""

    of: Difference | Match
    entries: tuple[Entry, ...]
    rows: tuple[Row, ...]
    form: Form
    back: Form | None = None


async def show(visit: Visit) -> Response:
    """Show what differs, and what waits for a word."""
    return await _shown(visit)


async def _shown(
    visit: Visit, filled: Form | None = None, *, refusal: str = "", status: int = 200, of: str = ""
) -> Response:
    month = visit.place("month")
    found, members = await together(visit.book.reconciliation(month=month), listed(visit.book.members()))
    open_ = [each for each in found.differences if each.decision is None]
    suggested = [each for each in found.matches if each.status == "suggested"]
    at = _at(visit.query.get("from", ""), len(open_))
    if filled and of:
        at = next((nth - nth % _A_PAGE for nth, each in enumerate(open_) if each.key == of), at)
    shown, asked = open_[at : at + _A_PAGE], suggested[:_A_PAGE]
    sides = await _sides(visit, found, [*shown, *asked], {of: filled} if filled else {})
    return visit.show(
        "reconciliation.html",
        status=status,
        month=month,
        found=found,
        differences=[sides.of(each) for each in shown],
        at=at,
        open_count=len(open_),
        a_page=_A_PAGE,
        suggested=[sides.of(each) for each in asked],
        decided=[each for each in found.differences if each.decision is not None][:_MOST_DECIDED],
        kinds=_kinds(open_),
        pairs=_pairs(open_, sides.rows),
        members=members,
        form=filled or visit.form({}),
        new_form=visit.form,
        mends=mends,
        refusal=refusal,
        done=visit.query.get("done", ""),
        recorded=[number for number in visit.query.get("entries", "").split(",") if number.isdecimal()],
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sides:
    """Finds what stands on either side: entries by number, rows by identity; filled are forms by key that come back."""

    visit: Visit
    entries: Mapping[int, Entry]
    rows: Mapping[str, Row]
    filled: Mapping[str, Form]

    def of(self, each: Difference | Match) -> Sides:
        entries = tuple(self.entries[number] for number in each.entries)
        rows = tuple(self.rows[name] for name in each.rows if name in self.rows)
        mend = each.mend if isinstance(each, Difference) else None
        texts = {**(mends.offered(mend) if mend else {}), "reason": _AS_SHOWN}
        back = self.filled.get(each.key)
        form = back if back and back.step == "accepted" else self.visit.form(texts)
        return Sides(of=each, entries=entries, rows=rows, form=form, back=back)


async def _sides(
    visit: Visit, found: Reconciliation, shown: Iterable[Difference | Match], filled: Mapping[str, Form]
) -> _Sides:
    """Ask for the entries of what is shown, each once."""
    numbers = dict.fromkeys(number for each in shown for number in each.entries)
    entries = await together(*(visit.book.entry(number=number) for number in numbers))
    return _Sides(
        visit=visit,
        entries={each.entry.number: each.entry for each in entries},
        rows={row.identity: row for row in found.rows},
        filled=filled,
    )


def _at(text: str, count: int) -> int:
    return min(int(text), max(0, count - 1)) if text.isascii() and text.isdecimal() and len(text) < 8 else 0


def _kinds(differences: Iterable[Difference]) -> list[tuple[str, int]]:
    """Give the kinds of which there are several, with how many."""
    counted: dict[str, int] = {}
    for each in differences:
        counted[each.kind] = counted.get(each.kind, 0) + 1
    return [(kind, count) for kind, count in counted.items() if count > 1]


def _pairs(
    differences: Iterable[Difference], rows: Mapping[str, Row]
) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """Give entries that the vendor doesn't show, and rows that the book doesn't have: they may be the same. Each with
    words for it."""
    entries: list[tuple[str, str]] = []
    unmatched: list[tuple[str, str]] = []
    for each in differences:
        moved = f"{credits_of(each.quantity)} from {each.giver or 'elsewhere'} to {each.receiver or 'elsewhere'}"
        if each.kind == "missing_at_vendor":
            entries += [(str(number), f"Entry {number}, {each.day}: {moved}") for number in each.entries]
        elif each.kind == "missing_in_journal":
            found = [rows[name] for name in each.rows if name in rows]
            unmatched += [(row.identity, f"{row.account}, {row.day}: {row_words(row)}") for row in found]
    return entries[:_MATCHES_A_PAGE], unmatched[:_MATCHES_A_PAGE]


async def decide(visit: Visit) -> Response:
    """Mend a difference, or let it stand."""
    filled = await visit.filled_in()
    key, accepting = filled["difference"], filled.step == "accepted"
    reason = filled.text("reason", most=_MOST_REASON)
    found = await visit.book.reconciliation(month=visit.place("month"))
    mend = next((each.mend for each in found.differences if each.key == key), None)
    answered = filled.ticked("as_answered")
    fields = mends.said(filled, mend) if accepting and mend and not answered else {}
    if filled.problems:
        return await _shown(visit, filled, status=422, of=key)

    async def done() -> dict[str, str]:
        made = await visit.book.decide(
            month=visit.place("month"),
            difference=key,
            verdict="accepted" if accepting else "dismissed",
            reason=reason,
            fields=fields,
            as_answered=answered and accepting,
            idempotency_key=filled.key,
        )
        return {"done": made.verdict, "entries": ",".join(map(str, made.entries))}

    return await _doing(visit, filled, done, of=key)


async def undo(visit: Visit) -> Response:
    """Undo what mended a difference, on its own day: then the month stands as before."""
    filled = await visit.filled_in()
    number = filled.quantity("entry")
    if number is None:
        return await _shown(visit, filled, status=422)

    async def done() -> dict[str, str]:
        entry = (await visit.book.entry(number=number)).entry
        body = Reversal(entry=number)
        made = await visit.book.record(body, effective_on=entry.effective_on, idempotency_key=filled.key)
        return {"done": "undone", "entries": str(made.number)}

    return await _doing(visit, filled, done)


async def confirm(visit: Visit) -> Response:
    """Confirm a suggested match, all of them, or a pair by hand."""
    filled = await visit.filled_in()
    word = filled.text("word", needed=False, most=MOST_NOTE)
    by_hand = filled.step == "pair"
    entry = filled.quantity("entry") if by_hand else None
    row = filled["row"] if by_hand else ""
    for name in ("entry", "row") if by_hand else ():
        if not filled[name]:
            filled.problems[name] = "Choose one."
    if filled.problems:
        return await _shown(visit, filled, status=422, of="pair")

    async def done() -> dict[str, str]:
        await visit.book.confirm(
            month=visit.place("month"),
            matches=[filled["match"]] if filled["match"] else [],
            all_suggested=filled.step == "all",
            entries=[entry] if entry else [],
            rows=[row] if row else [],
            word=word,
            idempotency_key=filled.key,
        )
        return {"done": "confirmed"}

    return await _doing(visit, filled, done)


async def take_back(visit: Visit) -> Response:
    """Take back that a match is confirmed."""
    filled = await visit.filled_in()
    word = filled.text("word", most=_MOST_REASON)
    if filled.problems:
        return await _shown(visit, filled, status=422, refusal="Say why it is taken back.")

    async def done() -> dict[str, str]:
        await visit.book.take_back(
            month=visit.place("month"), match=filled["match"], word=word, idempotency_key=filled.key
        )
        return {"done": "taken-back"}

    return await _doing(visit, filled, done)


async def hand(visit: Visit) -> Response:
    """Hand a difference to a member that can say what happened, or take it back."""
    filled = await visit.filled_in()
    word = filled.text("word", needed=False, most=MOST_NOTE)
    member = filled.text("to") if filled.step != "back" else None
    if filled.problems:
        return await _shown(visit, filled, status=422, of=filled["difference"])

    async def done() -> dict[str, str]:
        await visit.book.hand(
            month=visit.place("month"),
            difference=filled["difference"],
            member=member,
            word=word,
            idempotency_key=filled.key,
        )
        return {"done": "handed" if member else "back"}

    return await _doing(visit, filled, done, of=filled["difference"])


async def sign_off(visit: Visit) -> Response:
    """Sign the month off as it was seen."""
    month, filled = visit.place("month"), await visit.filled_in()
    note = filled.text("note", needed=False, most=MOST_NOTE)
    try:
        entry = await visit.book.sign_off(
            month=month,
            digest=filled["digest"],
            accept_open=filled.ticked("accept_open"),
            note=note,
            idempotency_key=filled.key,
        )
    except Stale:
        return await _shown(visit, visit.renewed(filled), refusal=_MOVED, status=412)
    except (Refused, Misused) as error:
        return await _refused(visit, filled, error)
    return to(f"{visit.home}/entries/{entry.number}", recorded="yes")


async def _doing(visit: Visit, filled: Form, do: Callable[[], Awaitable[dict[str, str]]], *, of: str = "") -> Response:
    """Do something and lead back to the month, or say why it wasn't done."""
    try:
        told = await do()
    except (Refused, Misused) as error:
        return await _refused(visit, filled, error, of=of)
    return to(f"{visit.home}/months/{visit.place('month')}/vendor", **told)


async def _refused(visit: Visit, filled: Form, error: PoolError, *, of: str = "") -> Response:
    return await _shown(visit, visit.renewed(filled), refusal=error.sentence, status=error.status or 409, of=of)


async def all_of_a_kind(visit: Visit) -> Response:
    """Show what deciding on all differences of a kind would record."""
    asked = visit.form({**visit.query, "reason": visit.query.get("reason", "") or _AS_SHOWN})
    return await _all_shown(visit, asked)


async def decide_all(visit: Visit) -> Response:
    """Decide on all differences of a kind."""
    filled = await visit.filled_in()
    told: dict[str, Any] = {
        "month": visit.place("month"),
        "kind": filled["kind"],
        "verdict": filled["verdict"],
        "reason": filled.text("reason", most=_MOST_REASON),
    }
    if filled.problems:
        return await _all_shown(visit, filled, status=422)
    try:
        made = await visit.book.decide_all(**told, idempotency_key=filled.key)
    except (Refused, Misused) as error:
        return await _all_shown(visit, visit.renewed(filled), refusal=error.sentence, status=error.status or 409)
    return visit.show(
        "reconciliation_all.html", month=told["month"], found=made, form=filled, refusal="", recorded=True
    )


async def _all_shown(visit: Visit, filled: Form, *, refusal: str = "", status: int = 200) -> Response:
    month = visit.place("month")
    found = await visit.book.preview_all(
        month=month, kind=filled["kind"], verdict=filled["verdict"] or "accepted", reason=filled["reason"] or _AS_SHOWN
    )
    return visit.show(
        "reconciliation_all.html",
        status=status,
        month=month,
        found=found,
        form=filled,
        refusal=refusal,
        recorded=False,
    )


async def matches(visit: Visit) -> Response:
    """Show all matches of a month, side by side."""
    month = visit.place("month")
    found = await visit.book.reconciliation(month=month)
    at = _at(visit.query.get("from", ""), len(found.matches))
    shown = found.matches[at : at + _MATCHES_A_PAGE]
    sides = await _sides(visit, found, shown, {})
    return visit.show(
        "reconciliation_matches.html",
        month=month,
        found=found,
        matches=[sides.of(each) for each in shown],
        at=at,
        a_page=_MATCHES_A_PAGE,
        form=visit.form({}),
        new_form=visit.form,
    )


async def proof(visit: Visit) -> Response:
    """Show the proof: journal and record day by day, and what leads from one closing to the other."""
    month = visit.place("month")
    found = await visit.book.proof(month=month)
    rows = {row.identity: row for row in found.rows}
    return visit.show("reconciliation_proof.html", month=month, found=found, rows=rows)


_MONTH = "/months/{month:month}/vendor"

ROUTES = (
    page(_MONTH, show),
    page(f"{_MONTH}/matches", matches),
    page(f"{_MONTH}/proof", proof),
    form(f"{_MONTH}/all", all_of_a_kind, decide_all),
    deed(f"{_MONTH}/decisions", decide),
    deed(f"{_MONTH}/undoing", undo),
    deed(f"{_MONTH}/confirmations", confirm),
    deed(f"{_MONTH}/withdrawals", take_back),
    deed(f"{_MONTH}/handings", hand),
    deed(f"{_MONTH}/sign-offs", sign_off),
)
