"""People at the command line: joining, signing in and out, and who may do what, against the real service."""

import json
import shlex
import stat
from pathlib import Path

import pytest
from pool_client.command import run
from pool_client.commands.desk import settings_file
from pool_client.errors import NotAllowed
from pool_client.models.directory import Role

from tests.clients.shop import Shop
from tests.served import PASSWORD, POOL, Served, code_of, join, second_factor


class Terminal:
    """Somebody's terminal: what is kept there, and what was said last."""

    def __init__(self, service: Served, home: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.service, self.home, self.capsys = service, home, capsys
        self.out = self.err = ""

    def run(self, line: str, **environ: str) -> int:
        given = {"HOME": str(self.home), **environ}
        code = run(shlex.split(line), given, self.service.http, sleep=lambda _: None)
        self.out, self.err = self.capsys.readouterr()
        return code

    @property
    def kept(self) -> Path:
        return settings_file({"HOME": str(self.home)})


@pytest.fixture
def terminal(service: Served, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Terminal:
    return Terminal(service, tmp_path, capsys)


def joined(terminal: Terminal, name: str = "Ines Walder") -> int:
    token = terminal.service.book().invite(role=Role.KEEPER).token or ""
    line = f"join --address {terminal.service.address} --name '{name}'"
    return terminal.run(line, CREDIT_POOL_INVITATION=token, CREDIT_POOL_PASSWORD=PASSWORD)


def with_second_factor(terminal: Terminal) -> str:
    """Give who has joined a second factor, and its secret."""
    terminal.service.keys["joined"] = json.loads(terminal.kept.read_text())["key"]
    return second_factor(terminal.service, "joined")


def test_a_person_joins_works_and_signs_out(terminal: Terminal) -> None:
    assert 0 == joined(terminal)
    assert 0o600 == stat.S_IMODE(terminal.kept.stat().st_mode)
    token = json.loads(terminal.kept.read_text())["key"]
    assert token.startswith("cps_")
    assert token not in terminal.out + terminal.err

    assert 0 == terminal.run("buy 10 70.00 --paid-by ALDER --on 2026-11-02")
    assert 0 == terminal.run("who")
    assert "Ines Walder, a person (p" in terminal.out
    assert 0 == terminal.run("sign-out")
    assert not terminal.kept.exists()
    with pytest.raises(NotAllowed):
        terminal.service.keys["over"] = token
        terminal.service.client("over").who()


def test_a_person_signs_in_later_and_ends_what_it_left_open(terminal: Terminal) -> None:
    joined(terminal)
    line = f"sign-in --address {terminal.service.address} --pool {POOL} --name 'ines walder'"
    assert 1 == terminal.run(line, CREDIT_POOL_PASSWORD="wrong words")
    assert "The name or the password is wrong." in terminal.err
    assert 0 == terminal.run(line, CREDIT_POOL_PASSWORD=PASSWORD)

    terminal.run("sessions --json")
    found = json.loads(terminal.out)
    other = next(each["session"] for each in found if not each["current"])
    assert 2 == len(found)
    assert 0 == terminal.run(f"end-session {other}")
    terminal.run("sessions")
    assert other not in terminal.out
    assert "command line" in terminal.out
    assert 0 == terminal.run("end-session")


def test_a_session_that_has_ended_is_forgotten_all_the_same(terminal: Terminal) -> None:
    joined(terminal)
    terminal.service.clock.pass_days(1)

    assert 0 == terminal.run("sign-out")
    assert "ended already" in terminal.err
    assert not terminal.kept.exists()


def test_a_keeper_invites_changes_and_takes_out(terminal: Terminal) -> None:
    joined(terminal)
    with_second_factor(terminal)
    assert 0 == terminal.run("invite clerk --member BIRCH --note 'the counter'")
    token = terminal.out.strip()
    assert 0 == terminal.run("invitations")
    assert "the counter" in terminal.out
    assert token not in terminal.out
    made = terminal.service.client(None).accept_invitation(token=token, name="Olav Berg", password=PASSWORD)
    olav = made.person.person

    assert 0 == terminal.run("people")
    assert olav in terminal.out
    assert 0 == terminal.run(f"change-person {olav} clerk --member CEDAR --json")
    assert "CEDAR" == json.loads(terminal.out)[0]["member"]
    assert 0 == terminal.run(f"take-out {olav}")
    assert 0 == terminal.run("invite reader")
    assert 0 == terminal.run(f"withdraw-invitation {terminal.out.split('_')[1]}")


def test_a_password_is_asked_for_again_and_changed(terminal: Terminal) -> None:
    joined(terminal)
    with_second_factor(terminal)
    terminal.service.clock.pass_seconds(20 * 60)
    assert 1 == terminal.run("make-key more --role reader")
    assert "(confirmation-required)" in terminal.err

    assert 0 == terminal.run("confirm-password", CREDIT_POOL_PASSWORD=PASSWORD)
    assert 0 == terminal.run("make-key more --role reader")
    new = {"CREDIT_POOL_PASSWORD": PASSWORD, "CREDIT_POOL_NEW_PASSWORD": "riverside1"}
    assert 1 == terminal.run("password", **new)
    assert 0 == terminal.run("password", **{**new, "CREDIT_POOL_NEW_PASSWORD": "other words altogether"})


def test_a_person_joins_another_pool_in_the_session_it_has(terminal: Terminal) -> None:
    joined(terminal)
    olavs = join(terminal.service, "Olav Berg", "olav")
    terminal.service.book().take_person_out(person=olavs)
    token = terminal.service.book().invite(role=Role.READER, note="again").token or ""
    terminal.run(
        f"sign-in --address {terminal.service.address} --pool {POOL} --key {terminal.service.keys['keeper']}",
    )

    line = f"--key {terminal.service.keys['olav']} join --address {terminal.service.address}"
    assert 0 == terminal.run(line, CREDIT_POOL_INVITATION=token)
    assert "you are a reader of Riverside now" in terminal.err


def test_a_second_factor_is_set_up_asked_for_and_taken_off(terminal: Terminal) -> None:
    service = terminal.service
    joined(terminal)
    assert 1 == terminal.run("invite reader")
    assert "set one up first" in terminal.err
    assert 0 == terminal.run("second-factor")
    assert "pool begin-second-factor" in terminal.out

    assert 0 == terminal.run("begin-second-factor --json")
    secret = json.loads(terminal.out)["secret"]
    assert 1 == terminal.run("confirm-second-factor", CREDIT_POOL_CODE="000000")
    assert "(code-refused)" in terminal.err
    assert 0 == terminal.run("confirm-second-factor --json", CREDIT_POOL_CODE=code_of(service, secret))
    recovery = json.loads(terminal.out)["recovery_codes"]
    assert 0 == terminal.run("invite reader")

    line = f"sign-in --address {service.address} --pool {POOL} --name 'ines walder'"
    service.clock.pass_seconds(30)
    assert 1 == terminal.run(line, CREDIT_POOL_PASSWORD=PASSWORD, CREDIT_POOL_CODE="000000")
    assert 0 == terminal.run(line, CREDIT_POOL_PASSWORD=PASSWORD, CREDIT_POOL_CODE=code_of(service, secret))
    assert 0 == terminal.run(line, CREDIT_POOL_PASSWORD=PASSWORD, CREDIT_POOL_CODE=recovery[0])
    assert 0 == terminal.run("second-factor --json")
    assert 9 == json.loads(terminal.out)["recovery_codes"]

    assert 0 == terminal.run("recovery-codes", CREDIT_POOL_CODE=recovery[1])
    assert recovery[2] not in terminal.out
    service.clock.pass_seconds(30)
    assert 0 == terminal.run("take-off-second-factor", CREDIT_POOL_CODE=code_of(service, secret))
    assert 0 == terminal.run(line, CREDIT_POOL_PASSWORD=PASSWORD)


def test_a_name_and_a_key_are_not_both_taken(shop: Shop) -> None:
    line = ("sign-in", "--address", "https://pool.test", "--pool", "riverside", "--name", "Ines", "--key", "cp_x")

    assert 2 == shop.run(*line)
    assert 2 == shop.run("join", "--address", "pool.test", "--name", "Ines", CREDIT_POOL_INVITATION="cpi_x")
    assert [] == shop.requests


def test_what_needs_no_key_is_asked_without_one(shop: Shop) -> None:
    assert 0 == shop.run(
        *("join", "--address", "https://pool.test", "--name", "Ines"),
        CREDIT_POOL_INVITATION="cpi_x",
        CREDIT_POOL_PASSWORD="four words in a row",
    )
    asked = {(request.method, request.url.path): request.headers.get("Authorization") for request in shop.requests}

    assert asked["POST", "/v1/invitations/reading"] is None
    assert asked["POST", "/v1/invitations/acceptance"] is None
    assert str(asked["GET", "/v1/pools/riverside"]).startswith("Bearer cps_")


def test_what_happened_with_access_is_listed(terminal: Terminal) -> None:
    joined(terminal)
    with_second_factor(terminal)
    sam = join(terminal.service, "Sam", "sam", role=Role.CLERK, member="ALDER")
    terminal.run(f"change-person {sam} reader")
    assert 0 == terminal.run("access-log --most 3 --json")
    found = json.loads(terminal.out)
    assert ["role_changed", "signed_in", "invitation_accepted"] == [each["kind"] for each in found]
    assert ("Ines Walder", "Sam", POOL) == tuple(found[0][name] for name in ("by_name", "about_name", "pool"))

    assert 0 == terminal.run(f"access-log --kind role_changed --who {sam}")
    assert "role changed: clerk of ALDER before, reader now" in terminal.out
    assert 0 == terminal.run("access-log --mine")
    assert "signed in: command line" in terminal.out
    assert "invitation accepted: keeper" in terminal.out
    assert 0 == terminal.run("access-log --from 2027-01-01 --json")
    assert [] == json.loads(terminal.out)
