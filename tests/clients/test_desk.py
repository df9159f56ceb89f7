"""Which service, pool and key a command means, how it ends, and how it can be repeated."""

import io
import json
import os
import re
import stat
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from pathlib import Path
from typing import Any

import httpx
import pytest
from pool_client.command import main
from pool_client.commands.desk import Desk, exit_code
from pool_client.errors import Busy, Missing, Misused, NotAllowed, PoolError, Refused, ServerFault, Stale, Unreachable

from tests.clients.document import answered
from tests.clients.scripted import ADDRESS, API_KEY, ENTRY, problem
from tests.clients.shop import SET, Shop

OTHER_KEY = API_KEY.replace("5", "6")
BOUGHT = {"paid_by": "ALDER", "into": "stock", "quantity": 500, "amount": "3450.00", "order_number": "für März"}


def sign_in(shop: Shop, address: str = ADDRESS) -> int:
    return shop.run("sign-in", "--address", address, "--pool", "riverside", "--key", API_KEY)


def test_options_come_before_the_environment_and_that_before_what_is_kept(shop: Shop) -> None:
    assert 0 == sign_in(shop)
    shop.requests.clear()
    shop.run("members")
    shop.run("members", CREDIT_POOL_POOL="hillside", CREDIT_POOL_KEY=OTHER_KEY)
    shop.run("--pool", "lakeside", "members", CREDIT_POOL_POOL="hillside")
    shop.run("--address", "https://other.test", "--key", OTHER_KEY, "members")

    assert [
        ("pool.test", "riverside", API_KEY),
        ("pool.test", "hillside", OTHER_KEY),
        ("pool.test", "lakeside", API_KEY),
        ("other.test", "riverside", OTHER_KEY),
    ] == shop.asked()


def test_a_kept_key_goes_to_no_other_address(shop: Shop) -> None:
    sign_in(shop)
    shop.requests.clear()

    assert 2 == shop.run("--address", "https://other.test", "members")
    assert 2 == shop.run("members", CREDIT_POOL_ADDRESS="https://other.test")
    assert [] == shop.requests
    assert "no key" in shop.err


def test_signing_in_keeps_nothing_that_does_not_open_the_pool(shop: Shop) -> None:
    shop.serve = lambda _: problem(401, "unauthenticated")

    assert 1 == sign_in(shop)
    assert not shop.kept.exists()


def test_signing_in_asks_for_the_key(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("click.termui.hidden_prompt_func", lambda _: API_KEY)

    assert 0 == shop.run("sign-in", "--address", ADDRESS, "--pool", "riverside")
    assert API_KEY == json.loads(shop.kept.read_text())["key"]
    assert API_KEY not in shop.out + shop.err


def test_what_is_kept_is_for_its_owner_even_where_a_file_stood_open(shop: Shop) -> None:
    shop.kept.parent.mkdir(parents=True)
    shop.kept.touch(0o644)
    shop.kept.chmod(0o644)
    sign_in(shop)

    assert 0o600 == stat.S_IMODE(shop.kept.stat().st_mode)


@pytest.mark.parametrize(
    ("address", "warned"),
    [
        ("http://pool.test", True),
        ("https://pool.test", False),
        ("http://127.0.0.1:8000", False),
        ("http://localhost", False),
    ],
)
def test_signing_in_warns_where_the_key_can_be_read_on_its_way(shop: Shop, address: str, warned: bool) -> None:
    assert 0 == sign_in(shop, address)
    assert warned == ("use https" in shop.err)


@pytest.mark.parametrize("content", ["", "{", "[]", '{"key": 5}', "\x00"])
def test_a_settings_file_that_makes_no_sense_is_named(shop: Shop, content: str) -> None:
    shop.kept.parent.mkdir(parents=True)
    shop.kept.write_text(content)
    shop.kept.chmod(0o600)

    assert 2 == shop.run("members")
    assert str(shop.kept) in shop.err


@pytest.mark.parametrize("missing", SET)
def test_what_is_not_set_is_named_with_the_ways_to_set_it(shop: Shop, missing: str) -> None:
    assert 2 == shop.run("members", **{name: value for name, value in SET.items() if name != missing})
    assert f"set {missing}" in shop.err


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"CREDIT_POOL_ADDRESS": "pool.test"}, "is no address"),
        ({"CREDIT_POOL_KEY": "two secrets"}, "printable ASCII"),
    ],
)
def test_what_cannot_be_an_address_or_a_key_is_refused(shop: Shop, wrong: dict[str, str], words: str) -> None:
    assert 2 == shop.run("members", **{**SET, **wrong})
    assert words in shop.err
    assert "two secrets" not in shop.err
    assert [] == shop.requests


def test_an_argument_that_is_no_text_is_refused(shop: Shop) -> None:
    assert 2 == shop.run("entries", "--text", "caf\udce9", **SET)
    assert "isn't text" in shop.err


def test_a_setting_that_is_no_text_is_refused(shop: Shop) -> None:
    assert 2 == shop.run("members", **{**SET, "CREDIT_POOL_POOL": "caf\udce9"})
    assert "pool isn't text" in shop.err
    assert [] == shop.requests


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (Refused("No."), 1),
        (Missing("No."), 1),
        (NotAllowed("No."), 1),
        (Stale("No."), 1),
        (Misused("What?"), 2),
        (Busy("Later."), 3),
        (Unreachable("Where?", connected=True), 3),
        (ServerFault("Oh."), 3),
    ],
)
def test_a_command_ends_as_its_error_says(error: PoolError, code: int) -> None:
    assert code == exit_code(error)


@pytest.mark.parametrize("status", [500, 503, 429, 0])
def test_what_may_be_recorded_can_be_repeated_under_its_key(shop: Shop, status: int) -> None:
    def fail(request: httpx.Request) -> httpx.Response:
        if not status:
            raise httpx.ReadTimeout("slow", request=request)
        return problem(status, "rate-limited" if status == 429 else "out-of-order")

    shop.serve = fail
    assert 3 == shop.run("draw", "BIRCH", "40", **SET)
    assert "" == shop.out
    found = re.search(r"--repeat (\S+)", shop.err)
    assert found is not None
    shop.serve = answered
    assert 0 == shop.run("draw", "BIRCH", "40", "--repeat", found[1], **SET)

    assert {found[1]} == {request.headers["Idempotency-Key"] for request in shop.requests}


def test_a_recording_that_is_stopped_can_be_repeated_under_its_key(shop: Shop) -> None:
    def interrupt(_: httpx.Request) -> httpx.Response:
        raise KeyboardInterrupt

    shop.serve = interrupt
    assert 3 == shop.run("draw", "BIRCH", "40", **SET)
    assert f"--repeat {shop.requests[0].headers['Idempotency-Key']}" in shop.err
    assert 2 == shop.run("positions", **SET)
    assert "Stopped.\n" in shop.err


def test_a_refusal_says_the_sentence_and_the_rule_and_no_way_to_repeat(shop: Shop) -> None:
    shop.serve = lambda _: problem(409, "not-enough-held")

    assert 1 == shop.run("lend", "BIRCH", "CEDAR", "40", **SET)
    assert ["It is not-enough-held.", "  (not-enough-held)"] == shop.err.splitlines()


def test_what_the_service_says_cannot_command_the_terminal(shop: Shop) -> None:
    shop.serve = lambda _: problem(409, "x", detail="\x1b[31mred\x07")

    assert 1 == shop.run("members", **SET)
    assert "[31mred" in shop.err
    assert not {"\x1b", "\x07"} & set(shop.err)


def test_the_text_of_a_key_that_was_lost_is_not_made_up(shop: Shop) -> None:
    told = {"key_id": "4f0c8e12ab34", "name": "counter", "role": "reader", "created_at": ENTRY["recorded_at"]}
    shop.serve = lambda _: httpx.Response(201, json=told)

    assert 1 == shop.run("make-key", "counter", "--role", "reader", "--repeat", "of-last-friday", **SET)
    assert "" == shop.out
    assert "end it and make another" in shop.err


def test_as_json_everything_is_there_that_names_a_thing(shop: Shop) -> None:
    def listed(*line: str) -> Any:
        assert 0 == shop.run(*line, "--json", **SET)
        return json.loads(shop.out)

    assert "ALDER" == listed("members")[0]["code"]
    assert "riverside" == listed("terms")["id"]
    assert {"name", "day"} <= listed("profiles")[0].keys()


def test_a_desk_does_not_tell_what_it_knows() -> None:
    assert API_KEY not in repr(Desk(given={"key": API_KEY}, environ=SET))


def test_most_entries_asked_for_are_given_and_no_more(shop: Shop) -> None:
    def serve(request: httpx.Request) -> httpx.Response:
        assert "2" == request.url.params["limit"]
        return httpx.Response(200, json={"items": [ENTRY, ENTRY], "next": "more"})

    shop.serve = serve
    assert 0 == shop.run("entries", "--most", "2", "--json", **SET)
    assert 2 == len(json.loads(shop.out))
    assert 1 == len(shop.requests)


@contextmanager
def cut_off() -> Iterator[io.TextIOWrapper]:
    """Have a pipe without a reader as standard output."""
    reader, writer = os.pipe()
    os.close(reader)
    output = open(writer, "w", encoding="utf-8", closefd=False)  # noqa: SIM115 - what it can't write can't be closed
    with redirect_stdout(output):
        yield output
    with Path(os.devnull).open("wb") as devnull:
        os.dup2(devnull.fileno(), writer)
    output.close()
    os.close(writer)


def limited_to(encoding: str) -> redirect_stdout[io.TextIOWrapper]:
    """Have a standard output that writes in an encoding."""
    return redirect_stdout(io.TextIOWrapper(io.BytesIO(), encoding=encoding))


def test_what_is_recorded_and_cannot_be_shown_can_be_repeated_under_its_key(shop: Shop) -> None:
    shop.serve = lambda _: httpx.Response(201, json={**ENTRY, "kind": "purchase", "body": BOUGHT})
    with limited_to("ascii"):
        assert 3 == shop.run("buy", "500", "3450.00", "--paid-by", "ALDER", "--order", "für März", **SET)

    assert f"--repeat {shop.requests[0].headers['Idempotency-Key']}" in shop.err
    assert "The result can't be written in ascii" in shop.err
    assert "argument" not in shop.err


@pytest.mark.parametrize("form", [[], ["--json"]])
def test_a_recording_whose_reader_is_gone_can_be_repeated_under_its_key(shop: Shop, form: list[str]) -> None:
    with cut_off():
        assert 3 == shop.run("draw", "BIRCH", "40", *form, **SET)

    assert f"--repeat {shop.requests[0].headers['Idempotency-Key']}" in shop.err
    assert "The result can't be written: Broken pipe" in shop.err


@pytest.mark.parametrize("line", ["positions", "positions --json", "statement 2026-10 DOGWOOD --csv"])
def test_what_is_only_read_has_no_key_to_be_repeated_under(shop: Shop, line: str) -> None:
    with cut_off():
        assert 3 == shop.run(*line.split(), **SET)

    assert "The result can't be written: Broken pipe" in shop.err
    assert "--repeat" not in shop.err


def test_a_help_that_cannot_be_shown_says_so(shop: Shop) -> None:
    with limited_to("latin-1"):
        assert 3 == shop.run("close", "--help")

    assert "The result can't be written in latin-1" in shop.err


def test_what_could_not_be_written_does_not_change_how_the_process_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.argv", ["pool", "no-such-command"])
    with cut_off() as output:
        output.write("left over")
        with pytest.raises(SystemExit) as end:
            main()
        output.flush()

    assert 2 == end.value.code
