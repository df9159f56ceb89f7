"""What people are shown of reconciliations, and of what is done about them. Pure, as show.py is."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from pool_client.cells import tabulated
from pool_client.models.mending import Act, Dealt, DealtWith
from pool_client.models.vendor import (
    Decision,
    Difference,
    HandedDifference,
    Match,
    Mend,
    Reconciliation,
    Row,
    Signed,
)
from pool_client.show_record import gaps, proven
from pool_client.table import Table

_SHORT = 8


def reconciliation(found: Reconciliation) -> list[Table]:
    """Show a comparison: differences with what would mend them, matches that need a word, and the proof per account."""
    rows = [
        (each.key[:_SHORT], _plain(each.kind), each.sentence, _mend(each.mend), _where(each))
        for each in found.differences
    ]
    sure = sum(each.status == "matched" for each in found.matches)
    said = f"{sure:,} matched, {found.suggested:,} suggested, {found.undecided:,} to decide."
    return [
        tabulated(f"Differences of {found.month}", "key|kind|what differs|mend|decided", rows, said, *found.limits),
        *_suggested(found.matches),
        *_broken(found.broken),
        *gaps(found.gaps),
        _proof(found),
    ]


def _plain(word: str) -> str:
    return word.replace("_", " ")


def _where(each: Difference) -> str | None:
    """Say what was decided, or in whose hands it is."""
    if each.decision is not None:
        return each.decision.verdict
    if not each.handed:
        return None
    last = each.handed[-1]
    return f"with {last.member}" + (f", who says: {_answer(last)}" if last.answer else "")


def _answer(act: Act) -> str:
    fields = f" ({_fields(act.fields)})" if act.fields else ""
    return _plain(act.answer or "") + fields + (f", {act.word}" if act.word else "")


def _suggested(matches: Iterable[Match]) -> list[Table]:
    rows = [
        (
            each.key[:_SHORT],
            each.day,
            ", ".join(map(str, each.entries)),
            each.quantity,
            "; ".join(part.says for part in each.parts),
        )
        for each in matches
        if each.status != "matched"
    ]
    return [tabulated("Suggested matches", "key|day|entries|>credits|why", rows)] if rows else []


def _broken(kept: Iterable[Act]) -> list[Table]:
    rows = [
        (act.subject[:_SHORT], ", ".join(map(str, act.entries or ())), len(act.rows or ()), act.word) for act in kept
    ]
    title = "Confirmed matches whose entries or rows have changed"
    return [tabulated(title, "name|entries|>rows|word", rows)] if rows else []


def _proof(found: Reconciliation) -> Table:
    signed = [_signed(found.sign_off)] if found.sign_off else []
    table = proven(found.proof)
    return replace(table, words=(*table.words, *signed, f"Digest: {found.digest}"))


def _signed(signed: Signed) -> str:
    open_ = " although not all was decided" if signed.accepted_open else ""
    changed = "; it has changed since" if signed.changed else ""
    return f"Signed off by entry {signed.entry}{open_}{changed}."


def _mend(mend: Mend | None) -> str | None:
    if mend is None:
        return None
    asks = f"; asks {', '.join(mend.asks)}" if mend.asks else ""
    return f"{_plain(mend.kind)}: {_fields(mend.fields)}{asks}"


def _fields(fields: Mapping[str, Any]) -> str:
    return ", ".join(f"{_plain(name)} {value}" for name, value in fields.items() if value)


def decision(found: Decision) -> list[Table]:
    """Show a decision."""
    rows = [("verdict", found.verdict), ("reason", found.reason), ("entries", ", ".join(map(str, found.entries)))]
    return [tabulated(f"Difference {found.difference[:_SHORT]}", "what|is", rows)]


def previewed(found: DealtWith) -> list[Table]:
    """Show what deciding on all of a kind would do."""
    word = "Nothing is recorded yet; say --record to do it."
    return [_dealt_with(found, f"All {_plain(found.kind)} of {found.month} would be {found.verdict}", word)]


def decided(found: DealtWith) -> list[Table]:
    """Show what deciding on all of a kind did."""
    return [_dealt_with(found, f"All {_plain(found.kind)} of {found.month}: {found.verdict}", "")]


def _dealt_with(found: DealtWith, title: str, word: str) -> Table:
    rows = [(each.difference[:_SHORT], each.sentence, _becomes(each)) for each in found.differences]
    refused = sum(each.refusal is not None for each in found.differences)
    words = [f"{len(rows) - refused:,} {found.verdict}, {refused:,} refused and left undecided."]
    words += [f"{found.left:,} more are left for another time."] if found.left else []
    return tabulated(title, "key|what differs|what becomes of it", rows, *words, *([word] if word else []))


def _becomes(each: Dealt) -> str | None:
    if each.refusal is not None:
        return f"refused: {each.refusal.detail}"
    numbers = f"entry {' and '.join(map(str, each.entries))}: " if each.entries else ""
    said = (f"{_plain(record.kind)} of {record.effective_on}, {_fields(record.body)}" for record in each.records)
    return (numbers + "; ".join(said)) or None


def acts(found: Iterable[Act]) -> list[Table]:
    """Show what was done, a line each."""
    rows = [
        (act.subject[:_SHORT], _plain(act.act), act.member, ", ".join(map(str, act.entries or ())), act.word)
        for act in found
    ]
    return [tabulated("Done", "of|what|member|entries|word", rows)]


def act(found: Act) -> list[Table]:
    """Show one thing that was done."""
    return acts([found])


def handed(found: Iterable[HandedDifference]) -> list[Table]:
    """Show differences in members' hands, each with the rows that it speaks of and what was said of it."""
    tables = [table for each in found for table in _in_hand(each)]
    return tables or [tabulated("Differences in hand", "", [], "None.")]


def _in_hand(each: HandedDifference) -> Iterator[Table]:
    difference = each.difference
    title = f"Difference {difference.key[:_SHORT]} of {each.month}, with {each.member}: {_plain(difference.kind)}"
    mend = _mend(difference.mend)
    words = [difference.sentence, *([f"What would mend it: {mend}."] if mend else [])]
    words += [f"{_plain(said.act)}: {_answer(said) if said.answer else said.word}" for said in difference.handed or ()]
    yield tabulated(title, "account|day|kind|from|to|>credits|note", map(_row, each.rows), *words)


def _row(row: Row) -> tuple[object, ...]:
    return row.account, row.day, row.kind, row.giver, row.receiver, row.quantity, row.note
