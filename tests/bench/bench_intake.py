"""How long a vendor's file takes to be read, beside pandas reading it into a frame in the same run.

    python -m tests.bench.bench_intake [rows]

Reading is all that an import does before the database: bytes to table to an account's record, each cell checked.
A frame is less: nothing is set aside, and no day, quantity or account is looked at. Times are the processors', those of
the process that reads spreadsheets included, medians of three; memory is what a fresh process adds to its peak, and for
spreadsheets the peak of the process beside it."""

import io
import os
import resource
import subprocess
import sys
from collections.abc import Callable
from datetime import date, timedelta
from functools import partial
from typing import Any

import pandas as pd  # type: ignore[import-untyped]
import xlsxwriter

from pool_api.intake.columns import read
from pool_api.intake.profile import Meaning, Profile
from pool_api.intake.proposal import Known, propose
from pool_api.intake.table import read_table
from tests.bench.bench_documents import peak_kib
from tests.bench.timing import timed

HEADER = ("Booked", "Action", "Other account", "Credits", "Remark", "Ref no", "Balance after")
PROFILE = Profile(
    name="norvane",
    day="Booked",
    kind="Action",
    counterparty="Other account",
    quantity="Credits",
    note="Remark",
    reference="Ref no",
    balance="Balance after",
    kind_words={"sent": Meaning.SENT, "received": Meaning.RECEIVED, "unlock": Meaning.USE},
)
ACTIONS = (("Sent", "nv-birch", -7), ("Received", "nv-cedar", 9), ("Unlock", "", -2))


def rows_of(count: int) -> list[tuple[date, str, str, int, str, str, int]]:
    """Give so many movements of one account within a year, with a balance that runs on."""
    rows, balance = [], 0
    for number in range(count):
        action, other, quantity = ACTIONS[number % len(ACTIONS)]
        balance += quantity
        day = date(2026, 1, 1) + timedelta(days=number * 365 // count)
        rows.append((day, action, other, quantity, f"job {number % 997}, as agreed", f"R-{number:06d}", balance))
    return rows


def as_csv(count: int) -> bytes:
    """Give the movements as delimited text."""
    text: str = pd.DataFrame(rows_of(count), columns=list(HEADER)).to_csv(index=False)
    return text.encode()


def as_xlsx(count: int) -> bytes:
    """Give the movements as a workbook, days as days and numbers as numbers."""
    written = io.BytesIO()
    with xlsxwriter.Workbook(written, {"constant_memory": True, "default_date_format": "yyyy-mm-dd"}) as book:
        sheet = book.add_worksheet("History")
        for at, row in enumerate([HEADER, *rows_of(count)]):
            sheet.write_row(at, 0, row)
    return written.getvalue()


def in_full(content: bytes) -> int:
    """Read a file as an import does."""
    return len(read(read_table(content), PROFILE, "nv-alder").rows)


def guessed(content: bytes) -> object:
    """Read a file and guess its columns."""
    return propose(read_table(content), "norvane", Known(accounts=("nv-birch", "nv-cedar"))).profile


MAKERS: dict[str, Callable[[int], bytes]] = {"csv": as_csv, "xlsx": as_xlsx}
FRAMES: dict[str, dict[str, Callable[[Any], Any]]] = {
    "csv": {"pandas": pd.read_csv},
    "xlsx": {
        "pandas, openpyxl": partial(pd.read_excel, engine="openpyxl"),
        "pandas, calamine": partial(pd.read_excel, engine="calamine"),
    },
}


def framed(reader: Callable[[Any], Any], content: bytes) -> object:
    """Read a file into a frame."""
    return reader(io.BytesIO(content))


def added_kib(form: str, rows: int) -> str:
    """Give what reading a file adds to the peak of a process of its own, and the peak of the process beside it."""
    line = [sys.executable, "-m", "tests.bench.bench_intake", form, str(rows)]
    return subprocess.run(line, check=True, capture_output=True, text=True).stdout


def measured_alone(form: str, rows: int) -> None:
    """Print what reading one file adds to this process's peak."""
    content = MAKERS[form](rows)
    before = peak_kib()
    in_full(content)
    beside = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    sys.stdout.write(f"memory + {(peak_kib() - before) // 1024} MiB, beside it {beside // 1024} MiB")


def processors() -> float:
    """Give the seconds that processors have worked for this process and those that it started and waited for."""
    return sum(os.times()[:4])


def main() -> None:
    """Print a line for each form and way of reading."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    for form, make in MAKERS.items():
        content = make(rows)
        sys.stdout.write(f"{form} of {rows} rows, {len(content) / 2**20:.1f} MiB; {added_kib(form, rows)}\n")
        floors = {name: timed(partial(framed, reader, content), processors)[0] for name, reader in FRAMES[form].items()}
        for name, work in {"read whole": in_full, "guessed": guessed}.items():
            seconds, _ = timed(partial(work, content), processors)
            ratios = ", ".join(f"{seconds / floor:.2f} x {frame}" for frame, floor in floors.items())
            sys.stdout.write(f"  {name:<10} {seconds:6.2f} s ({ratios})\n")


if __name__ == "__main__":
    if sys.argv[1:2] and sys.argv[1] in MAKERS:
        measured_alone(sys.argv[1], int(sys.argv[2]))
    else:
        main()
