"""People: joining a pool, signing out, sessions, passwords and second factors, who may do what, and what happened with
access.

Passwords, codes and tokens are asked for, never taken from the command line, where other users of the machine could
see them; programs put them into the environment.
"""

from dataclasses import replace
from datetime import date
from itertools import islice

import click

from pool_client import show_people
from pool_client.commands.desk import Desk, json_option, pass_desk, repeat_option
from pool_client.commands.values import DAY, one_of
from pool_client.errors import NotAllowed
from pool_client.happenings import KINDS
from pool_client.models.directory import Role


@click.command("join", epilog="Example: pool join --address http://127.0.0.1:8000 --name 'Ines Walder'")
@click.option("--address", required=True, help="The service's address.")
@click.option("--name", help="What you will sign in by; without it you join as who has signed in.")
@pass_desk
def join(desk: Desk, address: str, name: str | None) -> None:
    """Accept an invitation, and stay signed in.

    Its token is asked for, and with a name a password for next time."""
    token = desk.secret("invitation", "Token of the invitation")
    desk.given = {**desk.given, "address": address}
    stranger = desk.stranger(address)
    opened = stranger.open_invitation(token=token)
    if name is None:
        desk.client.accept_invitation(token=token)
        desk.say(f"you are a {opened.role} of {opened.name} now")
        return
    password = desk.secret("password", "Password to sign in with", twice=True)
    made = stranger.accept_invitation(token=token, name=name, password=password, label="command line")
    desk.sign_in({"address": address, "pool": opened.pool, "key": made.token or ""})


@click.command("sign-out", epilog="Example: pool sign-out")
@pass_desk
def sign_out(desk: Desk) -> None:
    """End the session, and forget what was kept by signing in."""
    try:
        if desk.client.who().session is not None:
            desk.client.sign_out()
    except NotAllowed:
        desk.say("the session had ended already")
    desk.forget()
    desk.say("signed out")


@click.command("who", epilog="Example: pool who")
@json_option
@pass_desk
def who(desk: Desk) -> None:
    """Show who you are, and what you are in which pools."""
    desk.tell(desk.client.who(), show_people.who)


@click.command("sessions", epilog="Example: pool sessions")
@json_option
@pass_desk
def sessions(desk: Desk) -> None:
    """List where you have signed in."""
    desk.tell(list(desk.client.sessions()), show_people.sessions)


@click.command("end-session", epilog="Example: pool end-session 4f0c8e12ab34")
@click.argument("session", required=False)
@pass_desk
def end_session(desk: Desk, session: str | None) -> None:
    """End one of your sessions, or all the others."""
    if session is None:
        desk.client.end_other_sessions()
        desk.say("all other sessions have ended")
    else:
        desk.client.end_session(session=session)
        desk.say(f"session {session} has ended")


@click.command("confirm-password", epilog="Example: pool confirm-password")
@pass_desk
def confirm_password(desk: Desk) -> None:
    """Give the password again.

    You may then make keys and invitations, change roles, and change your second factor, for a while."""
    found = desk.client.confirm_session(password=desk.secret("password", "Password"))
    desk.say(f"confirmed until {found.confirmed_until}")


@click.command("password", epilog="Example: pool password")
@pass_desk
def password(desk: Desk) -> None:
    """Change your password, and end your other sessions."""
    current = desk.secret("password", "Present password")
    desk.client.change_password(current=current, new=desk.secret("new_password", "New password", twice=True))
    desk.say("the password is changed, and all other sessions have ended")


_CODE = "Code of your app, or a recovery code"


@click.command("second-factor", epilog="Example: pool second-factor")
@json_option
@pass_desk
def second_factor(desk: Desk) -> None:
    """Show your second factor: since when, recovery codes left."""
    desk.tell(desk.client.second_factor(), show_people.second_factor)


@click.command("begin-second-factor", epilog="Example: pool begin-second-factor")
@json_option
@pass_desk
def begin_second_factor(desk: Desk) -> None:
    """Begin a second factor: a secret for an authenticator app.

    The secret is shown this once. It counts once 'pool confirm-second-factor' is given a code of the app."""
    desk.tell(desk.client.begin_second_factor(), show_people.second_factor_begun)


@click.command("confirm-second-factor", epilog="Example: pool confirm-second-factor")
@json_option
@pass_desk
def confirm_second_factor(desk: Desk) -> None:
    """Confirm the second factor by a code, and get recovery codes.

    They are shown this once."""
    made = desk.client.confirm_second_factor(code=desk.secret("code", "Code of your app"))
    desk.say("signing in asks for a code from now on, and all other sessions have ended")
    desk.tell(made, show_people.recovery_codes)


@click.command("recovery-codes", epilog="Example: pool recovery-codes")
@json_option
@pass_desk
def recovery_codes(desk: Desk) -> None:
    """Make new recovery codes; the old ones are void."""
    desk.tell(desk.client.renew_recovery_codes(code=desk.secret("code", _CODE)), show_people.recovery_codes)


@click.command("take-off-second-factor", epilog="Example: pool take-off-second-factor")
@pass_desk
def take_off_second_factor(desk: Desk) -> None:
    """Take your second factor off, and end your other sessions."""
    desk.client.take_off_second_factor(code=desk.secret("code", _CODE))
    desk.say("you have no second factor any more, and all other sessions have ended")


@click.command("people", epilog="Example: pool people")
@json_option
@pass_desk
def people(desk: Desk) -> None:
    """List the people of the pool, those who were taken out too."""
    desk.tell(list(desk.book.people()), show_people.people)


@click.command("change-person", epilog="Example: pool change-person p4f0c8e12ab34 clerk --member ALDER")
@click.argument("person")
@click.argument("role", type=one_of(Role))
@click.option("--member", help="Whose clerk it is.")
@json_option
@pass_desk
def change_person(desk: Desk, person: str, role: str, member: str | None) -> None:
    """Change what somebody may do, from now on."""
    read = desk.book.person(person=person)
    wanted = replace(read.value, role=Role(role), member=member)
    desk.tell([desk.book.put_person(wanted, tag=read.tag).value], show_people.people)


@click.command("take-out", epilog="Example: pool take-out p4f0c8e12ab34")
@click.argument("person")
@pass_desk
def take_out(desk: Desk, person: str) -> None:
    """Take somebody out of the pool, from now on."""
    desk.book.take_person_out(person=person)
    desk.say(f"{person} is out of the pool")


@click.command("invite", epilog="Example: pool invite clerk --member ALDER --note 'the counter'")
@click.argument("role", type=one_of(Role))
@click.option("--member", help="Whose clerk it is.")
@click.option("--note", default="", help="For whom it is, or why.")
@repeat_option
@json_option
@pass_desk
def invite(desk: Desk, role: str, member: str | None, note: str, idempotency_key: str | None) -> None:
    """Invite somebody, and give the token, this once.

    It can be accepted once, within 72 hours, with 'pool join' or on the pages."""
    made = desk.book.invite(role=Role(role), member=member, note=note, idempotency_key=idempotency_key)
    if made.token is None:
        lost = f"invitation {made.invitation} was made before and its token can't be shown again: withdraw it"
        raise click.ClickException(lost)
    desk.say(f"invitation {made.invitation}, until {made.expires_at}; its token can't be shown again")
    desk.tell_word(made, made.token)


@click.command("invitations", epilog="Example: pool invitations")
@json_option
@pass_desk
def invitations(desk: Desk) -> None:
    """List the invitations, never their tokens."""
    desk.tell(list(desk.book.invitations()), show_people.invitations)


@click.command("withdraw-invitation", epilog="Example: pool withdraw-invitation 4f0c8e12ab34")
@click.argument("invitation")
@pass_desk
def withdraw_invitation(desk: Desk, invitation: str) -> None:
    """Withdraw an invitation that nobody has accepted."""
    desk.book.withdraw_invitation(invitation=invitation)
    desk.say(f"invitation {invitation} is void")


@click.command("access-log", epilog="Example: pool access-log --kind sign_in_refused --from 2026-10-01")
@click.option("--mine", is_flag=True, help="What you did and what happened to you; with an operator's key everything.")
@click.option("--kind", type=click.Choice(list(KINDS)), metavar="KIND", help="Only of this kind, such as role_changed.")
@click.option("--who", help="Only what this person or key did, and what happened to it; by its id.")
@click.option("--from", "from_day", type=DAY, help="The first day.")
@click.option("--to", "to_day", type=DAY, help="The last day.")
@click.option("--most", type=click.IntRange(1), default=50, show_default=True, help="How many, newest first.")
@json_option
@pass_desk
def access_log(
    desk: Desk,
    *,
    mine: bool,
    kind: str | None,
    who: str | None,
    from_day: date | None,
    to_day: date | None,
    most: int,
) -> None:
    """List what happened with access, newest first.

    Who signed in, was refused, was invited, was given or lost a role, and which keys were made and ended."""
    ask = desk.client.own_access_events if mine else desk.book.access_events
    found = ask(kind=kind, who=who, from_day=from_day, to_day=to_day, limit=min(most, 200))
    desk.tell(list(islice(found, most)), show_people.access_events)


COMMANDS = (
    *(join, who, sign_out, sessions, end_session, confirm_password, password),
    *(second_factor, begin_second_factor, confirm_second_factor, recovery_codes, take_off_second_factor),
    *(people, change_person, take_out, invite, invitations, withdraw_invitation),
    access_log,
)
