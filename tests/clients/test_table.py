"""Tables are drawn for eyes on a terminal, and are plain, whole columns for everything else."""

import io

from pool_client.table import Table, plain, put
from rich.console import Console

TABLE = Table(
    title="Positions",
    columns=("member", ">held", "note"),
    rows=(("ALDER", "1,024", "–"), ("BIRCH", "26", "金 is wide")),
    words=("Stock: 190 credits.",),
)


def printed(table: Table, *, terminal: bool, width: int = 60) -> str:
    file = io.StringIO()
    put(Console(file=file, force_terminal=terminal, width=width, color_system=None), [table])
    return file.getvalue()


def test_elsewhere_there_are_columns_and_nothing_drawn() -> None:
    assert [
        "Positions",
        "member   held  note",
        "ALDER   1,024  –",
        "BIRCH      26  金 is wide",
        "Stock: 190 credits.",
    ] == list(plain(TABLE))
    assert "\n".join([*plain(TABLE), "", ""]) == printed(TABLE, terminal=False)


def test_wide_characters_take_their_room() -> None:
    table = Table(title="", columns=("a", "b"), rows=(("金", "x"), ("abc", "y")))

    assert ["a    b", "金   x", "abc  y"] == list(plain(table))[1:]


def test_elsewhere_nothing_is_cut_or_broken() -> None:
    table = Table(title="t", columns=("note", "b"), rows=(("x" * 500, "y"),), words=("z" * 500,))
    lines = printed(table, terminal=False).splitlines()

    assert f"{'x' * 500}  y" in lines
    assert "z" * 500 in lines


def test_on_a_terminal_the_head_is_set_off_and_the_width_is_kept() -> None:
    lines = printed(TABLE, terminal=True, width=24).splitlines()

    assert any(set(line.strip()) == {"─"} for line in lines)
    assert all(len(line.rstrip()) <= 24 for line in lines)


def test_a_table_without_rows_has_no_head() -> None:
    table = Table(title="Members", columns=("code", "name"), rows=(), words=("None yet.",))

    assert ["Members", "None yet."] == list(plain(table))
    assert "code" not in printed(table, terminal=True)


def test_nobody_s_words_command_the_terminal() -> None:
    cell = "[link=x]\x1b[31mred\x07\x9b\u202e[/]"
    table = Table(title=f"[bold]{cell}", columns=(cell,), rows=((cell,),), words=(cell,))
    for terminal in (True, False):
        said = printed(table, terminal=terminal)

        assert 4 == said.count("[link=x]\N{REPLACEMENT CHARACTER}[31mred")
        assert all(each.isprintable() or each == "\n" for each in said)


def test_a_note_of_several_lines_stays_in_its_row() -> None:
    table = Table(title="", columns=("note",), rows=(("one\n\ttwo",),))

    assert ["note", "one  two"] == list(plain(table))[1:]
