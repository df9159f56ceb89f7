"""Month's end: sheets, settlements, closing and reopening, statements, reports, and what is still unpaid."""

import re
from collections.abc import Callable
from itertools import islice
from pathlib import Path

import click

from pool_client import show, show_report
from pool_client.client import Book
from pool_client.commands.desk import Desk, json_option, pass_desk, repeat_option
from pool_client.commands.files import NEW_FILE, Written, check_free, replace_option, write_file


@click.command("months", epilog="Example: pool months")
@json_option
@pass_desk
def months(desk: Desk) -> None:
    """List the months and which of them are closed."""
    desk.tell(list(desk.book.months()), show.months)


@click.command("month", epilog="Example: pool month 2026-10")
@click.argument("month")
@json_option
@pass_desk
def month(desk: Desk, month: str) -> None:
    """Show a month's sheet."""
    desk.tell(desk.book.sheet(month=month), show.sheet)


@click.command("entry-costs", epilog="Example: pool entry-costs 2026-10")
@click.argument("month")
@click.option("--most", type=click.IntRange(1), default=50, show_default=True, help="How many, first entry first.")
@json_option
@pass_desk
def entry_costs(desk: Desk, month: str, most: int) -> None:
    """List what the credits of each entry of a month had cost."""
    found = desk.book.entry_costs(month=month, limit=min(most, 200))
    desk.tell(list(islice(found, most)), show.entry_costs)


@click.command("settlement", epilog="Example: pool settlement 2026-10")
@click.argument("month")
@json_option
@pass_desk
def settlement(desk: Desk, month: str) -> None:
    """Preview how a month would be settled, or show how it was."""
    desk.tell(desk.book.settlement(month=month), show.settlement)


@click.command("close", epilog="Example: pool close 2026-10 --digest d1bf23b947efe36e…")
@click.argument("month")
@click.option("--digest", required=True, help="The digest of the preview that you saw.")
@click.option("--accept-warnings", is_flag=True, help="The month's warnings are understood.")
@click.option("--accept-differences", is_flag=True, help="What is open with the vendor's record is understood.")
@click.option("--note", default="", help="Free text.")
@repeat_option
@json_option
@pass_desk
def close(
    desk: Desk,
    month: str,
    digest: str,
    accept_warnings: bool,
    accept_differences: bool,
    note: str,
    idempotency_key: str | None,
) -> None:
    """Close a month as its preview said.

    Refused when the book has moved since; see 'pool settlement'."""
    made = desk.book.close(
        month=month,
        digest=digest,
        accept_warnings=accept_warnings,
        accept_differences=accept_differences,
        note=note,
        idempotency_key=idempotency_key,
    )
    desk.tell(made, show.recorded)


@click.command("reopen", epilog="Example: pool reopen 2026-10 --reason 'a purchase was missing'")
@click.argument("month")
@click.option("--reason", required=True, help="Why it has to be opened.")
@repeat_option
@json_option
@pass_desk
def reopen(desk: Desk, month: str, reason: str, idempotency_key: str | None) -> None:
    """Open the last closed month again.

    Possible while none of its payments is recorded."""
    desk.tell(desk.book.reopen(month=month, reason=reason, idempotency_key=idempotency_key), show.recorded)


@click.command("statement", epilog="Example: pool statement 2026-10 DOGWOOD --pdf dogwood.pdf --xlsx dogwood.xlsx")
@click.argument("month")
@click.argument("member")
@click.option("--csv", "as_csv", is_flag=True, help="Give it as CSV.")
@click.option("--pdf", type=NEW_FILE, help="Write it to a PDF file, to print and sign.")
@click.option("--xlsx", type=NEW_FILE, help="Write it to a spreadsheet file that recomputes itself.")
@replace_option
@json_option
@pass_desk
def statement(
    desk: Desk, month: str, member: str, as_csv: bool, pdf: Path | None, xlsx: Path | None, replace: bool
) -> None:
    """Show a member's statement of a month, or write it to files."""
    files = {suffix: file for suffix, file in (("pdf", pdf), ("xlsx", xlsx)) if file is not None}
    if as_csv and (desk.as_json or files):
        raise click.UsageError("--csv and --json, --pdf or --xlsx exclude each other")
    if as_csv:
        desk.tell_text(desk.book.statement_csv(month=month, member=member))
    elif files:
        check_free(files.values(), replace=replace)
        found = [(file, _FORMS[suffix](desk.book, month, member)) for suffix, file in files.items()]
        desk.tell([write_file(file, content) for file, content in found], show_report.files)
    else:
        desk.tell(desk.book.statement(month=month, member=member), show.statement)


_FORMS: dict[str, Callable[[Book, str, str], bytes]] = {
    "pdf": lambda book, month, member: book.statement_pdf(month=month, member=member),
    "xlsx": lambda book, month, member: book.statement_xlsx(month=month, member=member),
    "csv": lambda book, month, member: book.statement_csv(month=month, member=member).encode(),
}
"""How a statement is had as a file, by the suffix of its name."""


@click.command("statements", epilog="Example: pool statements 2026-10 --into october --form pdf --form xlsx")
@click.argument("month")
@click.option("--into", type=click.Path(file_okay=False, path_type=Path), help="The directory.")
@click.option("--zip", "packed", type=NEW_FILE, help="One zip for all of them, instead of a directory.")
@click.option(
    "--form", "forms", type=click.Choice(list(_FORMS)), multiple=True, default=("pdf",), help="pdf unless set."
)
@replace_option
@json_option
@pass_desk
def statements(
    desk: Desk, month: str, into: Path | None, packed: Path | None, forms: tuple[str, ...], replace: bool
) -> None:
    """Write all statements of a month to files, or to one zip.

    Files are named by month and member; the directory is made if it isn't there. A zip is made by the service in one
    go, and has one form."""
    if (into is None) == (packed is None):
        raise click.UsageError("either --into or --zip says where they are to go")
    if into is not None:
        desk.tell(_into(desk.book, into, month, forms, replace=replace), show_report.files)
    elif packed is not None:
        if len(forms) > 1:
            raise click.UsageError("a zip has statements of one form; --into takes several")
        check_free([packed], replace=replace)
        desk.tell([write_file(packed, desk.book.statements_zip(month=month, form=forms[0]))], show_report.files)


def _into(book: Book, into: Path, month: str, forms: tuple[str, ...], *, replace: bool) -> list[Written]:
    members = [each.member for each in book.sheet(month=month).members]
    wanted = [(member, form, into / _name(month, member, form)) for member in members for form in forms]
    check_free((file for _, _, file in wanted), replace=replace)
    into.mkdir(parents=True, exist_ok=True)
    return [write_file(file, _FORMS[form](book, month, member)) for member, form, file in wanted]


def _name(month: str, member: str, form: str) -> str:
    """Give the name of a statement's file, which can't lead out of its directory."""
    return f"statement-{re.sub('[^A-Za-z0-9-]', '_', f'{month}-{member}')}.{form}"


@click.command("report", epilog="Example: pool report 2026-10 --pdf october.pdf")
@click.argument("month")
@click.option("--pdf", type=NEW_FILE, help="Write it, with its plots, to a PDF file.")
@replace_option
@json_option
@pass_desk
def report(desk: Desk, month: str, pdf: Path | None, replace: bool) -> None:
    """Show what credits cost, the stock by day, and who lends."""
    if pdf is None:
        desk.tell(desk.book.report(month=month), show_report.report)
    else:
        check_free([pdf], replace=replace)
        desk.tell([write_file(pdf, desk.book.report_pdf(month=month))], show_report.files)


@click.command("payments", epilog="Example: pool payments --unpaid")
@click.option("--unpaid/--paid", default=None, help="Only those that are not paid in full, or only those that are.")
@click.option("--member", help="Only those that it pays or receives.")
@click.option("--month", help="Only those of its settlement.")
@json_option
@pass_desk
def payments(desk: Desk, unpaid: bool | None, member: str | None, month: str | None) -> None:
    """List the payments that closes asked for.

    The age counts from the end of the month."""
    found = desk.book.settlement_payments(unpaid=unpaid, member=member, month=month)
    desk.tell(list(found), show.settlement_payments)


COMMANDS = (
    months,
    month,
    entry_costs,
    settlement,
    close,
    reopen,
    statement,
    statements,
    report,
    payments,
)
