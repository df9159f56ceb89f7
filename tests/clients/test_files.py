"""What people write down in files is read as meant, or refused with the line."""

import json
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import click
import pytest
from pool_client.commands.files import read_commands, read_model
from pool_client.models.entries import Command, Draw, Loan, Opening, Purchase, Use
from pool_client.wire import write

from tests.clients.samples import ONE_OF_EACH

DRAW = '{"kind": "draw", "member": "BIRCH", "quantity": 40}'


@pytest.fixture
def written(tmp_path: Path) -> Any:
    def write_down(content: str | bytes, name: str = "october.jsonl") -> Path:
        file = tmp_path / name
        file.write_bytes(content.encode() if isinstance(content, str) else content)
        return file

    return write_down


def test_every_kind_can_stand_on_a_line(written: Any) -> None:
    lines = [json.dumps({"kind": each.kind, **write(each)}) for each in ONE_OF_EACH]

    assert [*ONE_OF_EACH] == [each.body for each in read_commands(written("\n".join(lines)))]


def test_day_note_and_reference_stand_beside(written: Any) -> None:
    beside = {"effective_on": "2026-10-03", "note": "one\u2028line", "reference": "R-1"}
    (command,) = read_commands(written(json.dumps({**json.loads(DRAW), **beside}, ensure_ascii=False)))

    assert Draw(member="BIRCH", quantity=40) == command.body
    assert (date(2026, 10, 3), "one\u2028line", "R-1") == (command.effective_on, command.note, command.reference)


def test_csv_says_the_same(written: Any) -> None:
    rows = (
        "kind,effective_on,member,lender,borrower,paid_by,quantity,amount,unit_price,item,job,off_road_only,note\n"
        "draw,2026-10-03,BIRCH,,,,40,,,,,,\n"
        'loan,,,BIRCH,DOGWOOD,,24,,7.50,,,,"until Friday, ""or so"""\n'
        "\n"
        "purchase,,,,,ALDER,500,3450.00,,,,,\n"
        "use,,BIRCH,,,,4,,,CAL-S,A-1001,TRUE,\n"
    )

    assert [
        Command(body=Draw(member="BIRCH", quantity=40), effective_on=date(2026, 10, 3)),
        Command(
            body=Loan(lender="BIRCH", borrower="DOGWOOD", quantity=24, unit_price=Decimal("7.50")),
            note='until Friday, "or so"',
        ),
        Command(body=Purchase(paid_by="ALDER", quantity=500, amount=Decimal("3450.00"))),
        Command(body=Use(member="BIRCH", quantity=4, item="CAL-S", job="A-1001", off_road_only=True)),
    ] == read_commands(written(rows, "october.csv"))


def test_csv_may_come_from_a_spreadsheet(written: Any) -> None:
    rows = "\ufeffkind;member;quantity\r\ndraw;BIRCH;40\r\n"

    assert [Command(body=Draw(member="BIRCH", quantity=40))] == read_commands(written(rows, "OCTOBER.CSV"))


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (f"{DRAW}\n\n{{", "line 3: It isn't JSON."),
        (f"{DRAW}\n[1]", "line 2: It isn't an object with a kind."),
        ('{"member": "BIRCH"}', "line 1: It isn't an object with a kind."),
        ('{"kind": ["draw"]}', "line 1: It isn't an object with a kind."),
        ('{"kind": "gift"}', "line 1: gift is no kind that is recorded like this."),
        ('{"kind": "close", "month": "2026-10"}', "line 1: close is no kind that is recorded like this."),
        ('{"kind": "draw", "member": "BIRCH"}', "line 1: quantity is missing at #."),
        ('{"kind": "draw", "member": "BIRCH", "quantity": 4.5}', "line 1: 4.5 stands at #/quantity"),
        ('{"kind": "draw", "member": "BIRCH", "quantity": 4, "qty": 4}', "line 1: qty is not known at #."),
        ('{"kind": "draw", "member": "BIRCH", "quantity": 4, "effective_on": "3.10."}', "at #/effective_on"),
        ('{"kind": "draw", "member": "BIRCH", "quantity": 4, "note": 5}', "line 1: 5 stands at #/note"),
        ('{"kind": "purchase", "paid_by": "A", "quantity": 1, "amount": 7.07}', "line 1: 7.07 stands at #/amount"),
        ("", "has nothing to record"),
        ("\n\n", "has nothing to record"),
        (b"\xff\xfe", "isn't text in UTF-8"),
        ("[" * 100_000, "line 1: It isn't JSON."),
    ],
)
def test_lines_that_do_not_fit_are_refused_with_their_number(written: Any, content: str | bytes, words: str) -> None:
    with pytest.raises(click.UsageError) as refused:
        read_commands(written(content))
    assert words in str(refused.value)
    assert "october.jsonl" in str(refused.value)


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("kind,member,quantity\ndraw,BIRCH,40\ndraw,BIRCH,many\n", 'line 3: "many" stands at #/quantity'),
        ("kind,member,quantity\ndraw,BIRCH,4.0\n", 'line 2: "4.0" stands at #/quantity'),
        ("kind,member,quantity\ndraw,BIRCH,٤\n", "at #/quantity"),
        ("kind,member,quantity\ndraw,BIRCH,40,more\n", "line 2: There are more cells than the head has."),
        ("kind,member,quantity\ndraw,BIRCH\n", "line 2: quantity is missing at #."),
        ("kind,member,qty\ndraw,BIRCH,40\n", "line 2: qty is not known at #."),
        ("kind,member,quantity,item,job,off_road_only\nuse,BIRCH,4,I,J,perhaps\n", "at #/off_road_only"),
        ("kind,members\nopening,ALDER\n", "at #/members"),
        ('kind,member,quantity\ndraw,BIRCH,40\ndraw,"BIRCH,40\n', "line 3: unexpected end of data"),
        ("member,quantity\nBIRCH,40\n", "line 2: It isn't an object with a kind."),
        ("kind,member,quantity\n", "has nothing to record"),
    ],
)
def test_rows_that_do_not_fit_are_refused_with_their_line(written: Any, rows: str, words: str) -> None:
    with pytest.raises(click.UsageError) as refused:
        read_commands(written(rows, "october.csv"))
    assert words in str(refused.value)


def test_a_file_that_is_one_object_is_read_as_it_stands(written: Any) -> None:
    told = {"members": [{"member": "DOGWOOD", "held": 20, "cost": "190.00"}]}
    opening = read_model(written(json.dumps(told)), Opening)

    assert Decimal("190.00") == opening.members[0].cost
    with pytest.raises(click.UsageError, match=r"costs is not known at #/members/0\."):
        read_model(written(json.dumps({"members": [{"member": "DOGWOOD", "costs": "190.00"}]})), Opening)
    with pytest.raises(click.UsageError, match=r"It isn't JSON\."):
        read_model(written(b"\xff"), Opening)
