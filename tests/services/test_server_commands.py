"""The server's own commands about people, for whoever has the database at hand."""

import logging
import re
from datetime import UTC, datetime, timedelta

import pytest
from click.testing import CliRunner
from pool_client.errors import NotAllowed

from pool_api.__main__ import keep_log, main
from tests.databases import Database
from tests.served import PASSWORD, Served, join, second_factor


def test_the_log_tells_what_happened_and_when_in_utc(capsys: pytest.CaptureFixture[str]) -> None:
    log = logging.getLogger("pool_api")
    before = (log.handlers[:], log.level, log.propagate)
    try:
        keep_log()
        logging.getLogger("pool_api.services.sessions").info("signed in: person %s", "p000000000001")
        logging.getLogger("httpx").info("of no concern")
        logging.getLogger("pool_api.rest").warning("not permitted: %s", "a\r\n2026-11-10 INFO b\x1b[2J\u2028c")
    finally:
        log.handlers[:], log.propagate = before[0], before[2]
        log.setLevel(before[1])
    said, harmless = capsys.readouterr().err.splitlines(keepends=True)

    assert harmless.endswith("not permitted: a\ufffd\ufffd2026-11-10 INFO b\ufffd[2J c\n")
    assert re.fullmatch(
        r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ INFO pool_api.services.sessions: signed in: person p000000000001\n", said
    )
    assert abs(datetime.fromisoformat(said[:20]) - datetime.now(UTC)) < timedelta(minutes=5)


def test_a_password_is_given_anew_and_a_person_shut_out_and_let_in(service: Served, database: Database) -> None:
    join(service, "Ines Walder", "ines")
    settings = {"CREDIT_POOL_DATABASE_URL": database.url}

    def ran(*line: str) -> str:
        ended = CliRunner().invoke(main, line, env=settings, catch_exceptions=False)
        assert 0 == ended.exit_code
        return ended.stdout.strip()

    given = ran("new-password", "ines walder")
    assert 32 == len(given)
    assert 401 == service.send("GET", "/v1/session", key="ines").status_code
    ran("shut-out", "Ines Walder")
    for password in (PASSWORD, given):
        with pytest.raises(NotAllowed):
            service.client(None).sign_in(name="Ines Walder", password=password)
    ran("let-in", "Ines Walder")
    assert service.client(None).sign_in(name="Ines Walder", password=given).token


def test_a_lost_second_factor_is_taken_off_and_nobody_elses(service: Served, database: Database) -> None:
    for name, key in (("Ines Walder", "ines"), ("Olav Berg", "olav")):
        join(service, name, key)
        second_factor(service, key)
    settings = {"CREDIT_POOL_DATABASE_URL": database.url}
    ended = CliRunner().invoke(main, ("end-second-factor", "ines walder"), env=settings, catch_exceptions=False)
    unknown = CliRunner().invoke(main, ("end-second-factor", "nobody"), env=settings)

    assert (0, "ines walder signs in with the password alone now\n") == (ended.exit_code, ended.stderr)
    assert "There is no person nobody" in str(unknown.exception)
    assert service.client(None).sign_in(name="Ines Walder", password=PASSWORD).token
    with pytest.raises(NotAllowed, match="a code of your authenticator app"):
        service.client(None).sign_in(name="Olav Berg", password=PASSWORD)
    assert service.client("olav").who().has_second_factor


def test_a_journal_is_verified_against_an_entry_that_is_known(service: Served, database: Database) -> None:
    body = {"paid_by": "ALDER", "quantity": 5, "amount": "35.00", "effective_on": "2026-09-02"}
    begins = service.send("POST", "/purchases", body).json()["hash"][:16]

    def ended(known: str) -> tuple[int, str]:
        line, settings = ["verify", "riverside", "--known", known], {"CREDIT_POOL_DATABASE_URL": database.url}
        done = CliRunner().invoke(main, line, env=settings)
        return done.exit_code, done.stdout

    assert 0 == ended(f"1:{begins}")[0]
    assert (1, True) == (ended(f"2:{begins}")[0], "entry 2: the journal ends before it" in ended(f"2:{begins}")[1])
    assert [2, 2] == [ended(wrong)[0] for wrong in ("one:0123456789abcdef", "1:0123")]
