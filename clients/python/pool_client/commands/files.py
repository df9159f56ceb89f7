"""Files: how people write down in one what is to be recorded (JSON, a JSON object a line, or CSV), and how one is
written.

A file that doesn't fit is refused as a whole, with the line and what is wrong there; nothing of it is sent. A file that
is written is written whole or not at all, and replaces another only where that is asked for.
"""

import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, TypeVar, get_type_hints

import click

from pool_client.models.buying import Needs
from pool_client.models.entries import BODIES, Close, Command, Recordable, Reopening, SignOff
from pool_client.wire import Json, Unfit, read_json, read_written

T = TypeVar("T")

FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
"""An argument that names a file."""


NEW_FILE = click.Path(dir_okay=False, path_type=Path)
"""An option that names a file to be written."""

sheet_option = click.option("--sheet", help="Which sheet of a spreadsheet; the first that holds a table otherwise.")
"""For every command that reads a vendor's file."""

replace_option = click.option("--replace", is_flag=True, help="Replace files that are there already.")
"""For every command that writes files."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """A file that was written, and its bytes."""

    file: str
    size: int


def check_free(files: Iterable[Path], *, replace: bool) -> None:
    """Refuse to replace files that are there, unless that is asked for. Refuses: UsageError."""
    there = [str(file) for file in files if file.exists()]
    if there and not replace:
        raise click.UsageError(f"{', '.join(there)}: there already; --replace replaces")


def write_file(file: Path, content: bytes) -> Written:
    """Write a file, whole or not at all, replacing what is there. Refuses: OSError."""
    part = file.with_name(f"{file.name}.part")
    try:
        part.write_bytes(content)
        part.replace(file)
    except OSError:
        part.unlink(missing_ok=True)
        raise
    return Written(file=str(file), size=len(content))


def read_model(file: Path, form: type[T]) -> T:
    """Read a file that is one JSON object. Refuses: UsageError with what is wrong where."""
    try:
        return read_written(form, read_json(file.read_bytes()))
    except Unfit as flaw:
        raise click.UsageError(f"{file}: {flaw}") from None


def read_commands(file: Path) -> list[Command]:
    """Read commands: CSV with a head where the name ends in .csv, else a JSON object a line; each has its kind.

    Refuses: UsageError with the line and what is wrong there."""
    text = _text_of(file)
    if file.suffix.lower() == ".csv":
        found = [_at(file, line, _from_cells, cells) for line, cells in _csv_rows(file, text)]
    else:
        found = [_at(file, line, _from_json, said) for line, said in _lines(text)]
    if not found:
        raise click.UsageError(f"{file} has nothing to record")
    return found


def read_needs(file: Path) -> tuple[str, list[Needs]]:
    """Read needs from CSV: a column `member`, then one for each of the months that the head names, one after the other;
    give the first month with them.

    Refuses: UsageError with the line and what is wrong there."""
    found, months = list[Needs](), list[str]()
    for line, cells in _csv_rows(file, _text_of(file)):
        member, *months = [""] if None in cells else [*cells]
        if member != "member" or not months or months != _following(months[0], len(months)):
            raise click.UsageError(f"{file}, line {line}: the head must be member and months in order, such as 2026-12")
        stated = [cells[month] or "" for month in months]
        if not all(re.fullmatch("[0-9]{1,10}", cell.strip()) for cell in stated):
            raise click.UsageError(f"{file}, line {line}: a need is no number of credits")
        found.append(Needs(member=cells[member], credits=tuple(map(int, stated))))
    if not found:
        raise click.UsageError(f"{file} has no needs")
    return months[0], found


def _following(first: str, count: int) -> list[str]:
    """Give so many months from one on; none where that isn't a month."""
    if not re.fullmatch("[0-9]{4}-(0[1-9]|1[0-2])", first):
        return []
    start = 12 * int(first[:4]) + int(first[5:]) - 1
    return [f"{at // 12:04}-{at % 12 + 1:02}" for at in range(start, start + count)]


def _text_of(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise click.UsageError(f"{file} isn't text in UTF-8") from None


def _at(file: Path, line: int, understand: Callable[[T], Command], said: T) -> Command:
    try:
        return understand(said)
    except Unfit as flaw:
        raise click.UsageError(f"{file}, line {line}: {flaw}") from None


def _lines(text: str) -> Iterator[tuple[int, str]]:
    return ((line, said) for line, said in enumerate(text.split("\n"), start=1) if said.strip())


def _csv_rows(file: Path, text: str) -> Iterator[tuple[int, dict[str, Any]]]:
    """Give the rows with the lines that they end in; the head says whether commas or semicolons stand between cells."""
    head = text.partition("\n")[0]
    rows = csv.DictReader(
        io.StringIO(text, newline=""), strict=True, delimiter=";" if head.count(";") > head.count(",") else ","
    )
    try:
        for row in rows:
            yield rows.line_num, row
    except csv.Error as flaw:
        raise click.UsageError(f"{file}, line {rows.reader.line_num}: {flaw}") from None


def _from_json(said: str) -> Command:
    return _command(read_json(said))


def _from_cells(cells: dict[str, Any]) -> Command:
    """Read a row of cells: empty ones say nothing; where a number or a switch is wanted, text that is one counts."""
    if None in cells:
        raise Unfit("There are more cells than the head has.")
    told = {name: cell for name, cell in cells.items() if cell}
    form = BODIES.get(told.get("kind", ""))
    hints = get_type_hints(form) if form else {}
    return _command({name: _plain(cell, hints.get(name)) for name, cell in told.items()})


def _plain(cell: str, wanted: Any) -> Json:
    if wanted in (int, int | None) and cell.isascii() and cell.isdigit():
        return int(cell)
    if wanted is bool:
        return {"true": True, "false": False}.get(cell.lower(), cell)
    return cell


@dataclass(frozen=True, slots=True, kw_only=True)
class _Beside:
    effective_on: date | None = None
    note: str = ""
    reference: str | None = None


_BESIDE = tuple(_Beside.__annotations__)


def _command(told: Json) -> Command:
    if not isinstance(told, dict) or not isinstance(told.get("kind"), str):
        raise Unfit("It isn't an object with a kind.")
    form: Any = BODIES.get(told["kind"])
    if form is None or form in (Close, Reopening, SignOff):
        raise Unfit(f"{told['kind']} is no kind that is recorded like this.")
    body: Recordable = read_written(
        form, {name: value for name, value in told.items() if name != "kind" and name not in _BESIDE}
    )
    beside = read_written(_Beside, {name: told[name] for name in _BESIDE if name in told})
    return Command(body=body, effective_on=beside.effective_on, note=beside.note, reference=beside.reference)
