"""The client against the API's description: every operation has a call, and every call is an operation."""

import inspect
import json
from datetime import date
from pathlib import Path
from typing import Any

from pool_client.calls import directory, reading, recording, vendor
from pool_client.calls.call import Call
from pool_client.client import AsyncBook, AsyncClient, Book, Client
from pool_client.models.directory import Member, Pool, Role
from pool_client.models.entries import Draw
from pool_client.models.vendor import ColumnProfile

import pool_api

DOCUMENT = json.loads((Path(pool_api.__file__).parent / "openapi.json").read_text())
OPERATIONS = {
    (method.upper(), path)
    for path, methods in DOCUMENT["paths"].items()
    for method, operation in methods.items()
    if operation.get("security") != []
}
DAY = date(2026, 9, 1)
DESCRIBED = [
    function
    for module in (directory, reading, recording, vendor)
    for name, function in inspect.getmembers(module, inspect.isfunction)
    if function.__module__ == module.__name__ and not name.startswith("_")
]
SAMPLES: dict[str, Any] = {
    "body": Draw(member="ALDER", quantity=1),
    "commands": (),
    "content": b"",
    "role": Role.READER,
    "number": 1,
}
MODELS: dict[Any, tuple[str, Any]] = {
    directory.put_pool: (
        "pool",
        Pool(id="x", name="x", vendor="x", currency="EUR", time_zone="UTC", began_on=DAY),
    ),
    directory.put_member: ("member", Member(code="ALDER", name="x", joined_on=DAY)),
    vendor.put_column_profile: ("profile", ColumnProfile(name="x", day="x")),
}


def made(describe: Any) -> Call[Any]:
    """Make a call with invented arguments."""
    given: dict[str, Any] = {}
    placed: list[Any] = []
    special, model = MODELS.get(describe, ("", None))
    for name, parameter in inspect.signature(describe).parameters.items():
        if parameter.default is inspect.Parameter.empty:
            value = model if name == special else SAMPLES.get(name, "x")
            if parameter.kind is inspect.Parameter.POSITIONAL_ONLY:
                placed.append(value)
            else:
                given[name] = value
    call: Call[Any] = describe(*placed, **given)
    return call


def test_every_operation_has_a_call_and_every_call_is_an_operation() -> None:
    calls = {(call.method, call.path) for call in map(made, DESCRIBED)}
    kinds = {("POST", f"/v1/pools/{{pool}}/{path}") for path in recording.PATHS.values()}

    assert OPERATIONS == calls | kinds


def test_every_call_that_records_goes_with_a_key() -> None:
    for call in map(made, DESCRIBED):
        operation = DOCUMENT["paths"][call.path][call.method.lower()]
        keyed = any(each["name"] == "Idempotency-Key" for each in operation.get("parameters", ()))
        assert keyed == call.keyed, call.path


def test_the_waiting_and_the_awaited_client_have_the_same_calls() -> None:
    def names(form: type) -> set[str]:
        return {name for name in dir(form) if not name.startswith("_")}

    assert names(Book) == names(AsyncBook)
    assert names(Client) == names(AsyncClient)
