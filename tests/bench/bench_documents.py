"""How long a statement takes as a file, and how much memory, beside the same statement as JSON in the same run.

    python -m tests.bench.bench_documents [lines]

Times are the processors' (setting pages uses several), medians of three, after one that loads the library; memory is
what a fresh process adds to its peak by making the document once, the library's loading included."""

import json
import re
import subprocess
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from time import process_time

from pool_api.reports.printed import statement_pdf
from pool_api.reports.report import report_pdf
from pool_api.reports.spreadsheet import statement_xlsx
from pool_api.reports.statement import Statement
from pool_api.reports.written import statement_csv, statement_json
from tests.bench.timing import timed
from tests.domain.examples import worked_example
from tests.reports.made import busy_month, overview_of, statement_of

FORMS: dict[str, Callable[[Statement], str | bytes]] = {
    "json": lambda made: json.dumps(statement_json(made)),
    "csv": statement_csv,
    "pdf": statement_pdf,
    "xlsx": statement_xlsx,
}


def made_of(lines: int) -> Statement:
    """Give a statement of so many lines; of none, that of the worked example."""
    return statement_of(busy_month(lines), "ALDER") if lines else statement_of(worked_example(), "DOGWOOD")


def peak_kib() -> int:
    """Give the most memory that this program has had, by itself: getrusage would count what its parent had, too."""
    found = re.search(r"VmHWM:\s+(\d+)", Path("/proc/self/status").read_text())
    return int(found[1]) if found else 0


def added_kib(form: str, lines: int) -> int:
    """Give what making a document adds to the peak of a process of its own."""
    line = [sys.executable, "-m", "tests.bench.bench_documents", form, str(lines)]
    return int(subprocess.run(line, check=True, capture_output=True, text=True).stdout)


def measured_alone(form: str, lines: int) -> None:
    """Print what one document adds to this process's peak."""
    made = made_of(lines)
    before = peak_kib()
    FORMS[form](made)
    sys.stdout.write(str(peak_kib() - before))


def main() -> None:
    """Print a line for each form and size, and one for the report."""
    for lines in (0, int(sys.argv[1]) if len(sys.argv) > 1 else 1_000):
        made = made_of(lines)
        sys.stdout.write(f"statement of {len(made.lines)} lines\n")
        FORMS["json"](made)
        floor, _ = timed(partial(FORMS["json"], made), process_time)
        for form, give in FORMS.items():
            give(made)
            seconds, content = timed(partial(give, made), process_time)
            sys.stdout.write(
                f"  {form:<5} {seconds * 1000:8.2f} ms ({seconds / floor:6.1f} x) {len(content) / 1024:8.1f} KiB, "
                f"memory + {added_kib(form, lines) / 1024:.0f} MiB\n"
            )
    overview = overview_of(worked_example())
    report_pdf(overview)
    seconds, content = timed(partial(report_pdf, overview), process_time)
    sys.stdout.write(f"month report with three plots: {seconds * 1000:.0f} ms, {len(content) / 1024:.0f} KiB\n")


if __name__ == "__main__":
    if sys.argv[1:2] and sys.argv[1] in FORMS:
        measured_alone(sys.argv[1], int(sys.argv[2]))
    else:
        main()
