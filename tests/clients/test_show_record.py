"""What people are shown of imports, of days on file and of the proof."""

from dataclasses import replace
from datetime import UTC, date, datetime

from pool_client import show_record
from pool_client.models.on_file import AccountCoverage, AccountProof, Break, Coverage, DayProof, Days, MonthProof, Step
from pool_client.models.vendor import Change, Gap, Import, ImportMade, Parting, Row, Sums
from pool_client.table import Table, plain
from pool_client.wire import read, write

DAY = date(2026, 10, 5)
ROW = Row(
    identity="a:1",
    account="nv-alder",
    day=DAY,
    kind="transfer",
    giver="nv-alder",
    receiver="nv-birch",
    quantity=1_040,
    note="waiting",
    line=2,
    balance=60,
)
MADE = ImportMade(
    import_id="00000002",
    account="nv-alder",
    profile="norvane",
    file_digest="0" * 64,
    imported_at=datetime(2026, 11, 1, 9, tzinfo=UTC),
    imported_by="keeper",
    rows_new=3,
    rows_known=1,
    rows_changed=1,
    rows_vanished=1,
    rows_back=0,
    set_aside=(),
    skipped=(),
    changes=(
        Change(
            says="changed", earlier=ROW, later=replace(ROW, quantity=41, balance=59), fields=("quantity", "balance")
        ),
        Change(says="gone", earlier=replace(ROW, note="", balance=None), fields=()),
    ),
)
SAME = Sums(opening=600, bought=0, came_in=0, went_out=60, used=0, refunded=0, closing=540)
PROOF = AccountProof(
    account="nv-alder",
    member="ALDER",
    first_day=date(2026, 10, 1),
    last_day=date(2026, 10, 31),
    journal=replace(SAME, closing=540),
    record=replace(SAME, went_out=100, closing=500),
    stated=470,
    residual=-30,
    balanced=False,
    parting=Parting(day=DAY, journal_balance=540, record_balance=500, keys=("bae5a3cbbae5",), row="a:1"),
    opened_apart=0,
    steps=(Step(day=DAY, credits=-40, kind="missing_in_journal", key="bae5a3cbbae5"),),
    breaks=(Break(day=DAY, missing=-30), Break(day=DAY)),
    days=(
        DayProof(day=date(2026, 10, 4), journal=SAME, record=SAME, apart=0),
        DayProof(day=DAY, journal=SAME, record=replace(SAME, closing=500), apart=-40),
    ),
)


def lines(tables: list[Table]) -> list[str]:
    return [" ".join(line.split()) for table in tables for line in plain(table)]


def test_an_import_tells_what_it_shows_otherwise_side_by_side() -> None:
    said = lines(show_record.imported(MADE))

    assert "Of rows on file, 1 are shown otherwise, 1 no longer, 0 again." in said
    assert (
        "2026-10-05 changed 1,040 transfer nv-alder to nv-birch waiting, balance 60 "
        "41 transfer nv-alder to nv-birch waiting, balance 59 quantity, balance"
    ) in said
    assert "2026-10-05 gone 1,040 transfer nv-alder to nv-birch – –" in said
    assert not any("pool changes" in line for line in said)


def test_an_import_that_says_more_than_it_tells_names_the_command_that_tells_all() -> None:
    said = lines(show_record.imported(replace(MADE, rows_changed=900)))

    assert "All of them: pool changes 00000002" in said


def test_an_import_that_says_nothing_of_rows_on_file_has_no_table_of_them() -> None:
    quiet = replace(MADE, rows_changed=0, rows_vanished=0, changes=(), repeats="00000001")

    said = lines(show_record.imported(quiet))

    assert "It is a copy of import 00000001, and says nothing new." in said
    assert not any("Rows on file" in line or "Of rows" in line for line in said)


def test_an_import_read_later_points_to_what_it_says() -> None:
    known = read(Import, {name: each for name, each in write(MADE).items() if name not in {"skipped", "changes"}})

    assert "All of them: pool changes 00000002" in lines(show_record.imported(known))


def test_coverage_is_a_line_for_each_account_and_days_when_asked() -> None:
    gap = Gap(account="nv-alder", member="ALDER", first_day=date(2026, 10, 9), last_day=date(2026, 10, 9), days=1)
    found = Coverage(
        first_day=date(2026, 10, 1),
        last_day=date(2026, 10, 9),
        accounts=(
            AccountCoverage(
                account="nv-alder",
                member="ALDER",
                rows=4,
                last_day=date(2026, 10, 8),
                spans=(Days(first_day=date(2026, 10, 1), last_day=date(2026, 10, 8)),),
                gaps=(gap,),
                days=(),
            ),
        ),
    )

    assert [
        "On file from 2026-10-01 to 2026-10-09",
        "member account rows last day on file on file not on file",
        "ALDER nv-alder 4 2026-10-08 2026-10-01 to 2026-10-08 2026-10-09",
    ] == lines(show_record.coverage(found))
    assert "Rows by day" in lines(show_record.coverage_by_day(found))
    assert [] == show_record.gaps([])
    assert "ALDER nv-alder 2026-10-09 2026-10-09 1" in lines(show_record.gaps([gap]))


def test_a_proof_has_one_line_for_a_day_on_which_both_sides_agree_and_else_two() -> None:
    said = lines(show_record.proof(MonthProof(month="2026-10", accounts=(PROOF,), rows=(ROW,))))

    assert "ALDER, account nv-alder, 2026-10-01 to 2026-10-31" in said
    assert "2026-10-04 both 600 0 0 60 0 0 540 0" in said
    assert "2026-10-05 journal 600 0 0 60 0 0 540 –" in said
    assert "2026-10-05 record 600 0 0 60 0 0 500 -40" in said


def test_a_proof_bridges_from_one_closing_to_the_other_and_says_what_is_left_over() -> None:
    said = lines(show_record.proof(MonthProof(month="2026-10", accounts=(PROOF,), rows=(ROW,))))
    begin, first = said.index("From journal to record"), "1,040 transfer nv-alder to nv-birch waiting, balance 60"

    assert [
        "day what key credits",
        "– the journal closes with – 540",
        "2026-10-05 missing in journal bae5a3cb -40",
        "– the record closes with – 500",
        "– left over – -30",
        "– its last running balance – 470",
        "Not balanced.",
        f"They part on 2026-10-05: journal 540, record 500 at its end; the first row that is different: {first}.",
        "On 2026-10-05 the record's own balances don't follow: rows of -30 credits are missing.",
        "On 2026-10-05 the record's own balances don't follow: rows of credits that can't be told are missing.",
    ] == said[begin + 1 :]


def test_a_proof_without_balances_says_what_it_doesnt_prove() -> None:
    bare = replace(
        PROOF,
        record=replace(SAME, opening=None, closing=None),
        stated=None,
        residual=None,
        parting=None,
        steps=(),
        breaks=(),
        balanced=True,
        opened_apart=None,
    )

    said = lines(show_record.proof(MonthProof(month="2026-10", accounts=(bare,), rows=())))

    assert "Balanced." in said
    assert "The record tells no running balance to begin with: movements are compared, balances are not." in said
    apart = replace(PROOF, opened_apart=5)
    assert "2026-10-01 the record opened with more – 5" in lines(
        show_record.proof(MonthProof(month="2026-10", accounts=(apart,), rows=()))
    )
