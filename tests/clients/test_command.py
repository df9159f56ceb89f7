"""The command line: what it prints where, how it ends, and what it never shows."""

import json
import shlex
import stat
from pathlib import Path
from typing import Any

import pytest
from pool_client.command import run
from pool_client.commands.desk import settings_file

from tests.served import POOL, Served


class Ended:
    """How a command line ended."""

    def __init__(self, code: int, captured: Any) -> None:
        self.code, self.out, self.err = code, captured.out, captured.err


@pytest.fixture
def pool(service: Served, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Any:
    """Run a command line against the service."""

    def run_line(line: str, *, key: str = "keeper", **environ: str) -> Ended:
        given = {
            "HOME": str(tmp_path),
            "CREDIT_POOL_ADDRESS": service.address,
            "CREDIT_POOL_POOL": POOL,
            "CREDIT_POOL_KEY": service.keys[key],
            **environ,
        }
        code = run(shlex.split(line), {name: value for name, value in given.items() if value}, service.http)
        return Ended(code, capsys.readouterr())

    return run_line


def test_a_result_is_a_table_or_json_and_words_go_elsewhere(pool: Any) -> None:
    bought = pool("buy 100 700.00 --paid-by ALDER --on 2026-09-02 --json")
    drawn = pool("draw BIRCH 40 --on 2026-09-03")
    seen = pool("positions --as-of 2026-09-30")

    assert (0, "purchase", "") == (bought.code, json.loads(bought.out)["kind"], bought.err)
    assert "Recorded as entry 2 of 2026-09-03: draw, member BIRCH, quantity 40." in drawn.out
    assert "BIRCH" in seen.out
    assert "Stock: 60 credits" in seen.out


@pytest.mark.parametrize(
    ("line", "code", "words"),
    [
        ("draw BIRCH 40", 1, "The stock has 0 credits; 40 are more than that."),
        ("entry 99", 1, "There is no entry 99."),
        ("explain 2026-09 stock.closing", 1, "near: stock.closing.cost, stock.closing.quantity"),
        ("draw BIRCH", 2, "Missing argument 'QUANTITY'"),
        ("draw BIRCH many", 2, "'many' is not a valid integer"),
        ("draw BIRCH 1 --on yesterday", 2, "yesterday is no day; write YYYY-MM-DD"),
        ("buy 1 dear --paid-by ALDER", 2, "dear is no amount"),
        ("draw BIRCH 0", 2, "#/quantity"),
        ("no-such-command", 2, "No such command"),
    ],
)
def test_what_goes_wrong_is_said_on_standard_error_with_its_code(pool: Any, line: str, code: int, words: str) -> None:
    ended = pool(line)

    assert (code, "") == (ended.code, ended.out)
    assert words in ended.err


def test_a_clerk_is_told_what_it_may_not_do(pool: Any) -> None:
    ended = pool("month 2026-09", key="clerk")

    assert (1, "") == (ended.code, ended.out)
    assert "The role clerk may not do this" in ended.err


def test_signing_in_keeps_the_key_where_only_its_owner_reads_it(pool: Any, tmp_path: Path, service: Served) -> None:
    signed = pool(f"sign-in --address {service.address} --pool {POOL} --key {service.keys['keeper']}")
    kept = settings_file({"HOME": str(tmp_path)})
    nothing = {"CREDIT_POOL_ADDRESS": "", "CREDIT_POOL_POOL": "", "CREDIT_POOL_KEY": ""}

    assert 0 == signed.code
    assert 0o600 == stat.S_IMODE(kept.stat().st_mode)
    assert 0 == pool("members", **nothing).code
    kept.chmod(0o644)
    refused = pool("members", **nothing)
    assert 2 == refused.code
    assert "can be read by others" in refused.err


def test_a_key_is_printed_once_when_it_is_made_and_never_else(pool: Any, service: Served) -> None:
    text = pool("make-key 'the counter' --role clerk --member BIRCH").out.strip()

    assert text.startswith("cp_")
    for line in ("keys", "keys --json", "members", "positions"):
        ended = pool(line)
        assert text not in ended.out + ended.err
        assert service.keys["keeper"] not in ended.out + ended.err


def test_a_batch_file_is_recorded_wholly_or_says_the_line(pool: Any, tmp_path: Path) -> None:
    file = tmp_path / "october.jsonl"
    one = '{"kind": "charge", "from_member": "ALDER", "to_member": "BIRCH", "amount": "1.00", "reason": "courier"}'
    file.write_text("\n".join([one] * 3))

    assert 0 == pool(f"batch {file}").code
    file.write_text("\n".join([*[one] * 3, '{"kind": "charge", "from_member": 5}']))
    broken = pool(f"batch {file}")
    assert 2 == broken.code
    assert "line 4" in broken.err
    assert "entry 3" in pool("positions").out


def test_what_would_become_of_something_is_shown_and_nothing_is_recorded(pool: Any, tmp_path: Path) -> None:
    bought = pool("buy 100 700.00 --paid-by ALDER --on 2026-09-02 --preview")
    refused = pool("draw BIRCH 40 --on 2026-09-03 --preview")
    pool("buy 100 700.00 --paid-by ALDER --on 2026-09-02")
    drawn = pool("draw BIRCH 40 --on 2026-09-03 --reference B-1 --preview")
    file = tmp_path / "loans.jsonl"
    file.write_text(
        '{"kind": "draw", "member": "BIRCH", "quantity": 40}\n'
        '{"kind": "loan", "lender": "BIRCH", "borrower": "CEDAR", "quantity": 15}\n'
    )
    lent = pool(f"batch {file} --preview")

    assert (0, 1, 0, 0) == (bought.code, refused.code, drawn.code, lent.code)
    assert "The stock has 0 credits; 40 are more than that." in refused.err
    assert ["in stock", "100", "60"] == cells(drawn.out, "in stock")
    assert ["held by BIRCH", "0", "40"] == cells(drawn.out, "held by BIRCH")
    assert ["held by BIRCH", "0", "25"] == cells(lent.out, "held by BIRCH")
    assert ["open from BIRCH to CEDAR", "0", "15"] == cells(lent.out, "open from BIRCH to CEDAR")
    assert "entry 1" in pool("positions").out
    pool("draw BIRCH 40 --on 2026-09-03 --reference B-1")
    assert (
        "Recorded already, under their references: 2."
        in pool("draw BIRCH 40 --on 2026-09-03 --reference B-1 --preview").out
    )


def cells(shown: str, start: str) -> list[str]:
    line = next(line for line in shown.splitlines() if line.startswith(start))
    return [start, *line.removeprefix(start).split()]
