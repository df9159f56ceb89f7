"""Signing in; pools with their terms, members, and API keys."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any, TypeVar

import click

from pool_client import show
from pool_client.commands.desk import Desk, json_option, pass_desk, repeat_option
from pool_client.commands.rules import policy_options
from pool_client.commands.values import DAY, one_of
from pool_client.errors import NotAllowed
from pool_client.models.directory import (
    Handle,
    Member,
    Policy,
    PolicyFrom,
    Pool,
    Role,
)
from pool_client.models.people import SessionMade

M = TypeVar("M", Pool, Policy, PolicyFrom, Member)


@click.command("sign-in", epilog="Example: pool sign-in --address http://127.0.0.1:8000 --pool six-trees")
@click.option("--address", required=True, help="The service's address.")
@click.option("--pool", required=True, help="The pool's id.")
@click.option("--name", help="Sign in as a person; password and, where there is a second factor, code are asked for.")
@click.option("--key", help="An API key; asked for unless it or a name is given.")
@pass_desk
def sign_in(desk: Desk, address: str, pool: str, name: str | None, key: str | None) -> None:
    """Sign in with a key, or as a person.

    Address, pool, and the key or the session's token are kept if they open the pool.
    They stand in a file that only you can read; the key goes to no other address."""
    if name is not None and key is not None:
        raise click.UsageError("give a name or a key, not both")
    if name is not None:
        key = _signed_in(desk, address, name).token
    desk.sign_in({"address": address, "pool": pool, "key": key or click.prompt("API key", hide_input=True)})


def _signed_in(desk: Desk, address: str, name: str) -> SessionMade:
    """Sign in with a password, and with a code where one is asked for."""
    service, label = desk.stranger(address), "command line"
    try:
        return service.sign_in(name=name, password=desk.secret("password", "Password"), label=label)
    except NotAllowed as refusal:
        if refusal.code != "code-needed":
            raise
        ticket = str(refusal.fields.get("ticket", ""))
    code = desk.secret("code", "Code of your app, or a recovery code")
    return service.complete_sign_in(name=name, ticket=ticket, code=code, label=label)


def _changed(now: M, given: Mapping[str, Any]) -> M:
    """Give a model with what is given, and with the rest as it is."""
    return replace(now, **{name: value for name, value in given.items() if value is not None})


@click.command(
    "create",
    epilog="Example: pool create riverside --name Riverside --vendor 'Norvane Tuning Systems' "
    "--currency EUR --time-zone Europe/Vienna --began-on 2026-10-01",
)
@click.argument("pool")
@click.option("--name", required=True, help="What people call it.")
@click.option("--vendor", required=True, help="Whose credits they are.")
@click.option("--currency", required=True, help="A code of ISO 4217.")
@click.option("--time-zone", required=True, help="A name of the IANA database.")
@click.option("--began-on", required=True, type=DAY, help="The first day of the book.")
@policy_options
@json_option
@pass_desk
def create(
    desk: Desk, /, pool: str, name: str, vendor: str, currency: str, time_zone: str, began_on: date, **policy: Any
) -> None:
    """Make a pool, with an operator's key."""
    made = Pool(
        id=pool,
        name=name,
        vendor=vendor,
        currency=currency,
        time_zone=time_zone,
        began_on=began_on,
        policy=_changed(Policy(), policy),
    )
    desk.tell(desk.client.put_pool(made).value, show.terms)


@click.command("terms", epilog="Example: pool terms")
@json_option
@pass_desk
def terms(desk: Desk) -> None:
    """Show the pool's terms and the policy that it began with."""
    desk.tell(desk.book.terms().value, show.terms)


@click.command("change-terms", epilog="Example: pool change-terms --custodian ALDER --keeper-member ALDER")
@click.option("--name", help="What people call it.")
@click.option("--custodian", help="Whose vendor account holds the stock from the start.")
@click.option("--keeper-member", help="The hub of a hub plan.")
@policy_options
@json_option
@pass_desk
def change_terms(
    desk: Desk, /, name: str | None, custodian: str | None, keeper_member: str | None, **policy: Any
) -> None:
    """Change what is given, and leave the rest."""
    read = desk.book.terms()
    given = {"name": name, "custodian": custodian, "keeper_member": keeper_member}
    changed = replace(_changed(read.value, given), policy=_changed(read.value.policy, policy))
    desk.tell(desk.client.put_pool(changed, tag=read.tag).value, show.terms)


@click.command("policies", epilog="Example: pool policies")
@json_option
@pass_desk
def policies(desk: Desk) -> None:
    """List the policies, each from its month on."""
    desk.tell(list(desk.book.policies()), show.policies)


@click.command("agree-policy", epilog="Example: pool agree-policy 2026-11 --loans-at-close carry")
@click.argument("month")
@policy_options
@json_option
@pass_desk
def agree_policy(desk: Desk, /, month: str, **policy: Any) -> None:
    """Change what is given of the policy from a month on.

    The rest is as it counts for that month now. Possible until the month is closed."""
    begun = [each for each in desk.book.policies() if each.from_month <= month]
    now = begun[-1] if begun else PolicyFrom(from_month=month)
    tag = desk.book.policy(month=month).tag if now.from_month == month and begun else None
    wanted = _changed(replace(now, from_month=month), policy)
    desk.tell([desk.book.put_policy(wanted, tag=tag).value], show.policies)


@click.command("members", epilog="Example: pool members --json")
@json_option
@pass_desk
def members(desk: Desk) -> None:
    """List the members."""
    desk.tell(list(desk.book.members()), show.members)


@click.command(
    "add-member",
    epilog="Example: pool add-member ALDER --name 'Alder Workshop' --joined-on 2026-10-01 --handle nv-10417",
)
@click.argument("code")
@click.option("--name", required=True, help="The shop's name.")
@click.option("--joined-on", required=True, type=DAY, help="Its first day in the pool.")
@click.option(
    "--handle", "handles", multiple=True, help="A vendor account, or ACCOUNT@DAY for one from a later day on."
)
@click.option("--share", type=int, default=1, show_default=True, help="Its weight in what is borne by all.")
@json_option
@pass_desk
def add_member(desk: Desk, code: str, name: str, joined_on: date, handles: Sequence[str], share: int) -> None:
    """Add a shop to the pool."""
    made = Member(
        code=code,
        name=name,
        joined_on=joined_on,
        share=share,
        handles=tuple(_handle(each, joined_on) for each in handles),
    )
    desk.tell([desk.book.put_member(made).value], show.members)


@click.command("change-member", epilog="Example: pool change-member ALDER --handle nv-20991@2026-12-01")
@click.argument("code")
@click.option("--name", help="The shop's name.")
@click.option("--left-on", type=DAY, help="Its last day; it must hold, owe and be owed nothing.")
@click.option("--handle", "handles", multiple=True, help="Another vendor account: ACCOUNT@DAY.")
@click.option("--share", type=int, help="Its weight in what is borne by all.")
@json_option
@pass_desk
def change_member(
    desk: Desk, code: str, name: str | None, left_on: date | None, handles: Sequence[str], share: int | None
) -> None:
    """Change what is given of a member, and leave the rest."""
    read = desk.book.member(code=code)
    given = {"name": name, "left_on": left_on, "share": share}
    more = tuple(_handle(each, read.value.joined_on) for each in handles)
    changed = replace(_changed(read.value, given), handles=(*read.value.handles, *more))
    desk.tell([desk.book.put_member(changed, tag=read.tag).value], show.members)


def _handle(text: str, otherwise: date) -> Handle:
    """Read an account, which may be an e-mail address, with or without a day after its last @."""
    account, _, since = text.rpartition("@")
    if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", since):
        return Handle(handle=text, since=otherwise)
    try:
        return Handle(handle=account, since=date.fromisoformat(since))
    except ValueError:
        raise click.BadParameter(f"{text}: {since} is no day; the day must be YYYY-MM-DD") from None


@click.command("keys", epilog="Example: pool keys")
@json_option
@pass_desk
def keys(desk: Desk) -> None:
    """List the API keys, never their texts."""
    desk.tell(list(desk.book.keys()), show.keys)


@click.command("make-key", epilog="Example: pool make-key 'counter at Alder' --role clerk --member ALDER")
@click.argument("name")
@click.option("--role", required=True, type=one_of(Role), help="What it is for.")
@click.option("--member", help="Whose clerk it is.")
@click.option("--expires-at", type=click.DateTime(["%Y-%m-%dT%H:%M:%S%z"]), help="An instant: 2026-12-31T22:00:00+0000")
@repeat_option
@json_option
@pass_desk
def make_key(
    desk: Desk,
    name: str,
    role: str,
    member: str | None,
    expires_at: datetime | None,
    idempotency_key: str | None,
) -> None:
    """Make an API key and give its text, this once."""
    made = desk.book.make_key(
        name=name, role=Role(role), member=member, expires_at=expires_at, idempotency_key=idempotency_key
    )
    if made.secret is None:
        lost = f"key {made.key_id} was made before and its text can't be shown again: end it and make another"
        raise click.ClickException(lost)
    desk.say(f"key {made.key_id} for {made.role}{f' of {member}' if member else ''}; it can't be shown again")
    desk.tell_word(made, made.secret)


@click.command("end-key", epilog="Example: pool end-key 4f0c8e12ab34")
@click.argument("key_id")
@pass_desk
def end_key(desk: Desk, key_id: str) -> None:
    """End an API key from now on."""
    desk.book.end_key(key_id=key_id)
    desk.say(f"key {key_id} has ended")


COMMANDS = (
    *(sign_in, create, terms, change_terms, policies, agree_policy),
    *(members, add_member, change_member, keys, make_key, end_key),
)
