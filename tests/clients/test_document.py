"""The client says what the OpenAPI document says: every operation, parameter, member of a body and of an answer."""

import json
from dataclasses import fields
from typing import Any

import pytest
from pool_client.calls.call import MOST_ROWS, Answer, Call, Page, Upload, Versioned
from pool_client.client import _BookCalls, _ServiceCalls
from pool_client.models.directory import Policy
from pool_client.models.entries import Entry
from pool_client.wire import Unfit, write

from tests.clients.document import (
    OPERATIONS,
    answer_schema,
    body_schema,
    flaws,
    parameters,
    resolved,
    sample,
)
from tests.clients.samples import KEY, OF_POOL, OF_SERVICE, every_call

SENT_OR_NOT = {"policy", *(each.name for each in fields(Policy)), "changed_at"}
"""A pool is sent and read as one model, and so is a policy; its rules needn't be sent. When an account changed isn't
sent at all."""

CALLS = {f"{name}-{call.path.rpartition('/')[2]}": call for name, call in every_call()}
each_call = pytest.mark.parametrize("call", CALLS.values(), ids=CALLS)
each_call_for_json = pytest.mark.parametrize(
    ("call", "schema"),
    [
        pytest.param(call, schema, id=name)
        for name, call in CALLS.items()
        if (schema := answer_schema(OPERATIONS[call.method, call.path])) and "Accept" not in call.headers
    ],
)


def told(understood: Any) -> Any:
    """Give as JSON what a call gave; the lists that come as tuples get back the name that they had."""
    if isinstance(understood, Versioned):
        return write(understood.value)
    if isinstance(understood, Page):
        return write({"items": understood.items, "next": understood.next})
    if isinstance(understood, tuple):
        return {"entries" if isinstance(understood[0], Entry) else "items": write(understood)}
    return write(understood)


def answer_of(given: Any) -> Answer:
    return Answer(status=200, headers={"etag": '"3"'}, content=json.dumps(given).encode())


def test_every_binding_has_a_sample() -> None:
    assert {name for name in vars(_ServiceCalls) if name[0] != "_"} == OF_SERVICE.keys()
    assert {name for name in vars(_BookCalls) if name[0] != "_"} == OF_POOL.keys()


def test_every_operation_has_a_call() -> None:
    assert OPERATIONS.keys() == {(call.method, call.path) for call in CALLS.values()}


@each_call
def test_parameters_are_those_of_the_operation(call: Call[Any]) -> None:
    operation = OPERATIONS[call.method, call.path]

    assert parameters(operation, "path") == call.places.keys()
    assert parameters(operation, "query") - {"cursor"} == call.query.keys()
    assert ("Idempotency-Key" in parameters(operation, "header")) == call.keyed
    assert (KEY if call.keyed else None) == call.key
    assert call.headers.keys() - {"Accept"} <= parameters(operation, "header")


def test_every_list_gives_as_many_rows_to_a_page_as_the_client_asks_for() -> None:
    parts = [each for operation in OPERATIONS.values() for each in operation.get("parameters", ())]

    assert {MOST_ROWS} == {each["schema"]["maximum"] for each in parts if each["name"] == "limit"}


@each_call
def test_bodies_are_those_of_the_operation(call: Call[Any]) -> None:
    operation = OPERATIONS[call.method, call.path]
    if call.body is None:
        assert "requestBody" not in operation
    elif isinstance(call.body, Upload):
        assert call.body.media_type in operation["requestBody"]["content"]
    else:
        schema = body_schema(operation)

        assert [] == flaws(schema, call.body)
        assert schema["properties"].keys() == call.body.keys()


def test_commands_of_a_batch_say_all_that_their_kinds_can() -> None:
    batch: Any = CALLS["record_all-batches"]
    kinds = resolved(body_schema(OPERATIONS["POST", batch.path])["properties"]["commands"]["items"])
    said = {command["kind"]: command.keys() for command in batch.body["commands"]}

    assert {
        kind: resolved({"$ref": ref})["properties"].keys() for kind, ref in kinds["discriminator"]["mapping"].items()
    } == said


@each_call_for_json
def test_answers_are_read_with_all_that_they_say(call: Call[Any], schema: dict[str, Any]) -> None:
    given = sample(schema, full=True)
    assert [] == flaws(schema, given)

    assert given == told(call.understand(answer_of(given)))


@each_call_for_json
def test_answers_need_to_say_no_more_than_they_have_to(call: Call[Any], schema: dict[str, Any]) -> None:
    given = sample(schema, full=False)
    assert [] == flaws(schema, given)

    assert given.keys() <= told(call.understand(answer_of(given))).keys()


@each_call_for_json
def test_answers_that_lack_something_are_refused(call: Call[Any], schema: dict[str, Any]) -> None:
    given = sample(schema, full=False)
    for name in given.keys() - SENT_OR_NOT:
        less = {each: value for each, value in given.items() if each != name}
        with pytest.raises(Unfit, match=name):
            call.understand(answer_of(less))


@pytest.mark.parametrize(
    "call",
    [
        pytest.param(call, id=name)
        for name, call in CALLS.items()
        if "items" in resolved(answer_schema(OPERATIONS[call.method, call.path]) or {}).get("properties", {})
    ],
)
def test_a_row_of_another_form_is_refused_with_its_place(call: Call[Any]) -> None:
    given = sample(answer_schema(OPERATIONS[call.method, call.path]) or {}, full=True)
    with pytest.raises(Unfit, match=r"^5 stands at #/items/1 where an object is expected\.$"):
        call.understand(answer_of({**given, "items": [*given["items"], 5]}))
    first, *_ = given["items"]
    name = min(first)
    with pytest.raises(Unfit, match=rf" stands at #/items/0/{name} where "):
        call.understand(answer_of({**given, "items": [{**first, name: 5.5}]}))
