"""What people are shown of imports, of days on file, and of the proof. Pure, as show.py, which shows all the rest."""

from collections.abc import Iterable, Iterator

from pool_client.cells import NOTHING, tabulated
from pool_client.models.on_file import AccountProof, Coverage, Days, MonthProof
from pool_client.models.vendor import Change, Gap, Import, ImportMade, Proof, Row, Sums
from pool_client.table import Table


def imported(found: Import) -> list[Table]:
    """Show what an import brought, and what it says of rows on file."""
    aside = [(str(each.line), each.column, each.reason) for each in found.set_aside]
    words = [f"{found.rows_new:,} new rows, {found.rows_known:,} on file already, {len(aside):,} set aside."]
    said = found.rows_changed + found.rows_vanished + found.rows_back
    if said:
        words.append(
            f"Of rows on file, {found.rows_changed:,} are shown otherwise, {found.rows_vanished:,} no longer, "
            f"{found.rows_back:,} again."
        )
    told: tuple[Change, ...] = ()
    if isinstance(found, ImportMade):
        told = found.changes
        words += [f"It is a copy of import {found.repeats}, and says nothing new."] if found.repeats else []
    if len(told) < said:
        words.append(f"All of them: pool changes {found.import_id}")
    title = f"Import {found.import_id} of account {found.account}"
    return [tabulated(title, ">line|column|set aside because", aside, *words), *(changes(told) if told else [])]


def changes(found: Iterable[Change]) -> list[Table]:
    """Show what an import says of rows on file: what was on file, and what is shown instead."""
    rows = [(each.earlier.day, each.says, _row(each.earlier), _instead(each), ", ".join(each.fields)) for each in found]
    return [tabulated("Rows on file", "day|is|was on file|is shown instead|differs in", rows)]


def _instead(change: Change) -> str | None:
    return None if change.later is None else _row(change.later)


def _row(row: Row) -> str:
    way = f"{row.giver or NOTHING} to {row.receiver or NOTHING}"
    said = [f"{row.quantity:,}", row.kind, way, row.note, row.reference]
    balance = "" if row.balance is None else f", balance {row.balance:,}"
    return " ".join(each for each in said if each) + balance


def imports(found: Iterable[Import]) -> list[Table]:
    """Show imports, a line each."""
    rows = (
        (e.import_id, e.account, e.first_day, e.last_day, e.rows_new, e.rows_known, e.rows_changed, e.rows_vanished)
        for e in found
    )
    return [tabulated("Imports", "id|account|from|to|>new|>known|>changed|>vanished", rows)]


# --- days on file ----------------------------------------------------------------------------------------------------


def coverage(found: Coverage) -> list[Table]:
    """Show which days are on file, a line for each account."""
    rows = [
        (each.member, each.account, each.rows, each.last_day, _days(each.spans), _days(each.gaps))
        for each in found.accounts
    ]
    title = f"On file from {found.first_day} to {found.last_day}"
    return [tabulated(title, "member|account|>rows|last day on file|on file|not on file", rows)]


def coverage_by_day(found: Coverage) -> list[Table]:
    """Show the same, and the rows of each day with the imports that show it."""
    rows = [
        (each.member, each.account, day.day, day.rows, ", ".join(day.imports))
        for each in found.accounts
        for day in each.days
    ]
    return [*coverage(found), tabulated("Rows by day", "member|account|day|>rows|imports", rows)]


def gaps(found: Iterable[Gap]) -> list[Table]:
    """Show days of which the record's silence proves nothing; no table where there are none."""
    rows = [(each.member, each.account, each.first_day, each.last_day, each.days) for each in found]
    return [tabulated("Not on file: proves nothing", "member|account|from|to|>days", rows)] if rows else []


def _days(spans: Iterable[Days | Gap]) -> str:
    return ", ".join(
        str(each.first_day) if each.first_day == each.last_day else f"{each.first_day} to {each.last_day}"
        for each in spans
    )


# --- the proof -------------------------------------------------------------------------------------------------------


def proven(found: Iterable[Proof]) -> Table:
    """Show each account's sums side by side, where the sides part, and what is left over."""
    lines, words = [], []
    for each in found:
        name = each.member or each.account
        lines += [(name, side, *_figures(sums)) for side, sums in (("journal", each.journal), ("record", each.record))]
        if each.parting:
            ours, theirs = f"journal {each.parting.journal_balance:,}", f"record {each.parting.record_balance:,}"
            words.append(f"{name}: {ours}, {theirs} at the end of {each.parting.day}.")
        if each.residual:
            words.append(f"{name}: the record's last balance has {each.residual:+,} beyond its rows on file.")
    return tabulated("Proof", "account|side|>opening|>bought|>in|>out|>used|>refunded|>closing", lines, *words)


def proof(found: MonthProof) -> list[Table]:
    """Show, for each account, its days with both sides, and the bridge from one closing to the other."""
    rows = {row.identity: row for row in found.rows}
    return [table for each in found.accounts for table in (_by_day(each), _bridge(each, rows))]


def _by_day(each: AccountProof) -> Table:
    lines = [line for day in each.days for line in _sides(day.day, day.journal, day.record, day.apart)]
    title = f"{each.member or NOTHING}, account {each.account}, {each.first_day} to {each.last_day}"
    return tabulated(title, "day|side|>opening|>bought|>in|>out|>used|>refunded|>closing|>apart", lines)


def _sides(day: object, journal: Sums, record: Sums, apart: int | None) -> Iterator[tuple[object, ...]]:
    """Give one line where both sides say the same, else one for each."""
    if journal == record:
        yield day, "both", *_figures(journal), apart
    else:
        yield day, "journal", *_figures(journal), None
        yield day, "record", *_figures(record), apart


def _figures(s: Sums) -> tuple[object, ...]:
    return s.opening, s.bought, s.came_in, s.went_out, s.used, s.refunded, s.closing


def _bridge(each: AccountProof, rows: dict[str, Row]) -> Table:
    lines: list[tuple[object, ...]] = [(None, "the journal closes with", None, each.journal.closing)]
    if each.opened_apart:
        lines.append((each.first_day, "the record opened with more", None, each.opened_apart))
    lines += [(step.day, step.kind.replace("_", " "), (step.key or "")[:8], step.credits) for step in each.steps]
    lines.append((None, "the record closes with", None, each.record.closing))
    if each.residual:
        lines.append((None, "left over", None, each.residual))
        lines.append((None, "its last running balance", None, each.stated))
    return tabulated("From journal to record", "day|what|key|>credits", lines, *_words(each, rows))


def _words(each: AccountProof, rows: dict[str, Row]) -> Iterator[str]:
    yield "Balanced." if each.balanced else "Not balanced."
    if each.record.opening is None:
        yield "The record tells no running balance to begin with: movements are compared, balances are not."
    parting = each.parting
    if parting is not None:
        row = rows.get(parting.row or "")
        first = f"; the first row that is different: {_row(row)}" if row else ""
        ours, theirs = f"journal {parting.journal_balance:,}", f"record {parting.record_balance:,}"
        yield f"They part on {parting.day}: {ours}, {theirs} at its end{first}."
    for found in each.breaks:
        size = "credits that can't be told" if found.missing is None else f"{found.missing:+,} credits"
        yield f"On {found.day} the record's own balances don't follow: rows of {size} are missing."
