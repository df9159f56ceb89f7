"""Files that commands write: whole or not at all, never over what is there unless that is asked for."""

import json
from pathlib import Path

import httpx
import pytest
from pool_client.commands.files import write_file

from tests.clients.document import answered
from tests.clients.scripted import ADDRESS
from tests.clients.shop import SET, Shop

CONTENT = b"a file"


def test_a_statement_is_written_in_both_forms(shop: Shop) -> None:
    pdf, xlsx = shop.home / "a.pdf", shop.home / "a.xlsx"

    assert 0 == shop.run("statement", "2026-10", "DOGWOOD", "--pdf", str(pdf), "--xlsx", str(xlsx), **SET)

    assert [CONTENT, CONTENT] == [pdf.read_bytes(), xlsx.read_bytes()]
    assert {pdf, xlsx} == set(shop.home.iterdir())
    assert [
        "application/pdf",
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ] == [request.headers["Accept"] for request in shop.requests]
    assert str(pdf) in shop.out
    assert f" {len(CONTENT)}\n" in shop.out


def test_what_was_written_is_told_as_json_when_asked(shop: Shop) -> None:
    file = shop.home / "r.pdf"

    assert 0 == shop.run("report", "2026-10", "--pdf", str(file), "--json", **SET)
    assert [{"file": str(file), "size": len(CONTENT)}] == json.loads(shop.out)


@pytest.mark.parametrize(
    "line", ["statement 2026-10 DOGWOOD --pdf {}", "statement 2026-10 DOGWOOD --xlsx {}", "report 2026-10 --pdf {}"]
)
def test_a_file_that_is_there_is_replaced_only_when_that_is_asked_for(shop: Shop, line: str) -> None:
    file = shop.home / "notes"
    file.write_text("not to be lost")

    assert 2 == shop.run(*line.format(file).split(), **SET)
    assert f"{file}: there already" in shop.err
    assert "not to be lost" == file.read_text()
    assert [] == shop.requests

    assert 0 == shop.run(*line.format(file).split(), "--replace", **SET)
    assert CONTENT == file.read_bytes()


def test_all_statements_of_a_month_go_into_one_directory(shop: Shop) -> None:
    into = shop.home / "books" / "october"
    asked = httpx.Request("GET", f"{ADDRESS}/v1/pools/riverside/months/2026-10", headers={"Accept": "application/json"})
    members = [each["member"] for each in answered(asked).json()["members"]]

    assert 0 == shop.run("statements", "2026-10", "--into", str(into), "--form", "csv", "--form", "pdf", **SET)
    assert {into / f"statement-2026-10-{member}.{form}" for member in members for form in ("csv", "pdf")} == set(
        into.iterdir()
    )

    assert 2 == shop.run("statements", "2026-10", "--into", str(into), **SET)
    assert "there already" in shop.err
    assert 0 == shop.run("statements", "2026-10", "--into", str(into), "--replace", **SET)


def test_all_statements_of_a_month_come_as_one_zip(shop: Shop) -> None:
    file = shop.home / "october.zip"

    assert 0 == shop.run("statements", "2026-10", "--zip", str(file), "--form", "csv", **SET)
    assert CONTENT == file.read_bytes()
    (request,) = shop.requests
    assert ("application/zip", b"form=csv") == (request.headers["Accept"], request.url.query)

    assert 2 == shop.run("statements", "2026-10", "--zip", str(file), **SET)
    assert "there already" in shop.err
    assert 0 == shop.run("statements", "2026-10", "--zip", str(file), "--replace", **SET)


@pytest.mark.parametrize(
    ("where", "said"),
    [
        ("", "either --into or --zip"),
        ("--into october --zip october.zip", "either --into or --zip"),
        ("--zip october.zip --form pdf --form csv", "one form"),
    ],
)
def test_statements_go_to_one_place(shop: Shop, where: str, said: str) -> None:
    assert 2 == shop.run("statements", "2026-10", *where.split(), **SET)
    assert said in shop.err
    assert [] == shop.requests


def test_no_name_leads_out_of_the_directory(shop: Shop) -> None:
    def serve(request: httpx.Request) -> httpx.Response:
        answer = answered(request)
        if request.url.path.endswith("/months/2026-10"):
            told = answer.json()
            told["members"][0]["member"] = "../../ALDER"
            return httpx.Response(200, json=told)
        return answer

    shop.serve = serve
    into = shop.home / "in" / "here"

    assert 0 == shop.run("statements", "2026-10", "--into", str(into), **SET)
    assert [into / "statement-2026-10-______ALDER.pdf"] == [each for each in shop.home.rglob("*") if each.is_file()]


def test_a_refusal_leaves_no_file(shop: Shop) -> None:
    problem = {"type": "/problems/not-permitted", "title": "x", "status": 403, "detail": "no", "code": "not-permitted"}
    shop.serve = lambda _: httpx.Response(403, json=problem)

    assert 1 == shop.run("report", "2026-10", "--pdf", str(shop.home / "r.pdf"), **SET)
    assert [] == list(shop.home.iterdir())


def test_a_place_that_cannot_be_written_is_named(shop: Shop) -> None:
    file = shop.home / "nowhere" / "r.pdf"

    assert 2 == shop.run("report", "2026-10", "--pdf", str(file), **SET)
    assert str(file) in shop.err


def test_a_file_that_cannot_be_finished_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "r.pdf"
    file.write_text("as it was")

    def full(part: Path, content: bytes) -> int:
        with part.open("wb") as begun:
            begun.write(content[:3])
        raise OSError(28, "No space left on device", str(part))

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(OSError, match="No space"):
        write_file(file, b"%PDF-1.7")

    assert [file] == list(tmp_path.iterdir())
    assert "as it was" == file.read_text()


def test_a_report_is_shown_as_tables(shop: Shop) -> None:
    assert 0 == shop.run("report", "2026-10", **SET)

    for words in ("what credits cost", "pool price", "Stock, by day", "Who lends and who borrows", "Rests on entry"):
        assert words in shop.out


@pytest.mark.parametrize("other", ["--json", "--pdf x.pdf", "--xlsx x.xlsx"])
def test_csv_goes_with_no_other_form(shop: Shop, other: str) -> None:
    assert 2 == shop.run("statement", "2026-10", "DOGWOOD", "--csv", *other.split(), **SET)
    assert "exclude each other" in shop.err
    assert [] == shop.requests
