"""The service against its own description: the document is committed, well formed and keeps our rules, and whatever a
checker makes up from it is answered as it says."""

from collections.abc import Iterator
from copy import deepcopy
from typing import Any

import pytest
import schemathesis
from click.testing import CliRunner
from hypothesis import HealthCheck, settings
from openapi_spec_validator import validate
from pool_client.calls.call import SHEETS
from schemathesis import Config
from schemathesis.specs.openapi.checks import ignored_auth, negative_data_rejection, use_after_free

from pool_api.__main__ import openapi
from pool_api.rest.compose import described
from tests.clients.document import DOCUMENT, ROOT
from tests.databases import SqliteTemplate
from tests.served import POOL, SHOPS, Served, listening, set_up

OPERATIONS = [
    (path, method, operation) for path, methods in DOCUMENT["paths"].items() for method, operation in methods.items()
]


def parts(value: Any) -> Iterator[dict[str, Any]]:
    """Give every object within a JSON value."""
    if isinstance(value, dict):
        yield value
        for each in value.values():
            yield from parts(each)
    elif isinstance(value, list):
        for each in value:
            yield from parts(each)


def test_the_committed_document_is_what_the_service_says_of_itself() -> None:
    assert described() == DOCUMENT
    printed = CliRunner().invoke(openapi).stdout
    assert printed == (ROOT / "pool_api" / "openapi.json").read_text(), "make openapi writes it anew"


def test_the_document_is_valid_openapi() -> None:
    validate(DOCUMENT)


def test_no_value_is_a_json_number_with_decimals() -> None:
    assert not [each for each in parts(DOCUMENT) if each.get("type") == "number"]


def test_paths_are_kebab_case_plurals_without_a_slash_at_their_end() -> None:
    words = [part for path in DOCUMENT["paths"] for part in path.strip("/").split("/") if "{" not in part]

    assert all(word == word.lower() and "_" not in word for word in words)
    assert not [path for path in DOCUMENT["paths"] if path.endswith("/")]


def test_members_and_query_parameters_are_snake_case() -> None:
    names = [name for schema in DOCUMENT["components"]["schemas"].values() for name in schema.get("properties", {})]
    names += [p["name"] for _, _, o in OPERATIONS for p in o.get("parameters", ()) if p["in"] == "query"]

    assert not [name for name in names if not name.replace("_", "").isalnum() or name != name.lower()]


def test_every_operation_has_a_name_of_its_own_a_summary_and_its_refusals() -> None:
    names = [operation["operationId"] for _, _, operation in OPERATIONS]

    assert len(names) == len(set(names))
    for path, method, operation in OPERATIONS:
        statuses = set(operation["responses"])
        assert operation["summary"], path
        assert [status for status in statuses if status[0] == "2"], path
        assert {"400", "405", "429", "500"} <= statuses, (method, path)


KEEPS_NOTHING = ("/proposal", "/preview", "/quotes")
TAKES_SECRETS = (
    *("/sessions", "/session/completion", "/session/confirmation", "/invitations/reading", "/invitations/acceptance"),
    *("/second-factor", "/second-factor/confirmation", "/second-factor/recovery-codes", "/second-factor/removal"),
)
"""What they are answered can't be kept to be told again."""


def test_every_request_that_records_takes_an_idempotency_key_and_closed_objects() -> None:
    schemas = DOCUMENT["components"]["schemas"]
    for path, method, operation in OPERATIONS:
        if method == "post" and not path.endswith(KEEPS_NOTHING + TAKES_SECRETS):
            headers = {p["name"]: p["required"] for p in operation["parameters"] if p["in"] == "header"}
            assert headers.get("Idempotency-Key"), path
    assert not [
        name for name in schemas if name.endswith("Form") and schemas[name]["additionalProperties"] is not False
    ]


def test_every_list_is_paged_or_bounded_by_months_and_members() -> None:
    unpaged = {
        operation["operationId"]
        for path, method, operation in OPERATIONS
        if method == "get"
        and operation["operationId"].startswith("list_")
        and not {"limit", "cursor"} <= {p["name"] for p in operation.get("parameters", ())}
    }

    assert {"list_months", "list_policies", "list_settlement_payments", "list_problems_service"} >= unpaged


# --- what a checker makes up -----------------------------------------------------------------------------------------

FIXED = {
    "path.pool": "riverside",
    "path.member": "ALDER",
    "path.holder": "ALDER",
    "path.month": "2026-10",
    "path.name": "norvane",
    "path.valid_from": "2026-11-03",
    "path.version": "1",
    "path.round_id": "00000001",
    "path.request_id": "00000001",
}
"""Parameters that are given, so that what is made up meets a book and not only strange names."""

CONTENT_THAT_THE_RULES_REFUSE = ["403", "404", "406", "409", "412", "422", "428"]


WRONG_CONTENT = ["400", "401", "413", "414", "415"]


CONFIG = Config.from_dict(
    {
        "parameters": FIXED,
        "checks": {
            "positive_data_acceptance": {"expected-statuses": ["2xx", "304", "400", *CONTENT_THAT_THE_RULES_REFUSE]},
            "missing_required_header": {"expected-statuses": ["400", "401", "428"]},
            "negative_data_rejection": {"expected-statuses": [*WRONG_CONTENT, *CONTENT_THAT_THE_RULES_REFUSE]},
        },
        "operations": [
            {
                "include-name": f"POST /v1/{name}",
                "checks": {
                    "positive_data_acceptance": {"expected-statuses": ["201", "401", "429"]},
                    "negative_data_rejection": {"expected-statuses": [*WRONG_CONTENT, "422", "429"]},
                },
            }
            for name in ("sessions", "session/completion")
        ]
        + [
            {
                "include-name": name,
                "checks": {
                    "positive_data_acceptance": {
                        "expected-statuses": ["2xx", "400", *CONTENT_THAT_THE_RULES_REFUSE, "429"]
                    },
                    "negative_data_rejection": {
                        "expected-statuses": [*WRONG_CONTENT, *CONTENT_THAT_THE_RULES_REFUSE, "429"]
                    },
                },
            }
            for name in (
                "PUT /v1/password",
                "POST /v1/session/confirmation",
                *(f"POST /v1/second-factor/{each}" for each in ("confirmation", "recovery-codes", "removal")),
            )
        ],
    }
)
"""Whoever makes up a name and a password, or a ticket, signs in as nobody, and has to wait; so has who makes up a
password or a code of its own."""


@pytest.fixture(scope="module")
def checked(sqlite_template: SqliteTemplate) -> Iterator[Served]:
    """A listening service with a pool of four shops."""
    with sqlite_template.copy() as copy, listening(copy.url) as served:
        set_up(served)
        KeeperKey.text = served.keys["keeper"]
        yield served


schemathesis.serializer.alias(list(SHEETS.values()), "text/csv")
described_api = schemathesis.openapi.from_dict(deepcopy(DOCUMENT), config=CONFIG)


@described_api.auth()
class KeeperKey:
    """The key that every request goes with, unless the checker leaves it out on purpose."""

    text = ""

    def get(self, case: schemathesis.Case[Any], context: Any) -> str:  # noqa: ARG002 - as the checker asks
        return self.text

    def set(self, case: schemathesis.Case[Any], data: str, context: Any) -> None:  # noqa: ARG002 - as above
        headers: Any = case.headers
        headers["Authorization"] = f"Bearer {data}"


@described_api.parametrize()
@settings(max_examples=6, derandomize=True, database=None, suppress_health_check=list(HealthCheck))
def test_whatever_is_made_up_is_answered_as_described(case: schemathesis.Case[Any], checked: Served) -> None:
    """Boundaries of every value, and a few examples of all. That no key and an unknown one are refused stands for every
    operation in test_access."""
    any_text_will_do = case.media_type not in {None, "application/json"}
    excluded: Any = [ignored_auth]
    excluded += [negative_data_rejection] if any_text_will_do or nothing_is_made_up(case) else []
    answer = case.call_and_validate(base_url=checked.address, excluded_checks=excluded)

    if case.meta is not None and case.meta.generation.mode.is_positive:
        if answer.status_code == 400:
            assert "cursor-invalid" == answer.json()["code"]
        if answer.status_code == 422:
            assert "invalid-request" != answer.json()["code"]


def nothing_is_made_up(case: schemathesis.Case[Any]) -> bool:
    """Tell whether all that the operation takes is given, so that what the checker broke on purpose isn't sent."""
    taken = {f"{each.location.value}.{each.name}" for each in case.operation.iter_parameters()}
    return taken <= {*FIXED, "header.Authorization"} and not case.operation.body


SIDES = ("member", "lender", "borrower", "from_member", "to_member", "paid_by", "holder")


def test_chains_of_requests_are_answered_as_described(sqlite_template: SqliteTemplate) -> None:
    wanted, met = {("record_loan", 201), ("read_entry", 200), ("record_reversal", 201)}, set[tuple[str, int]]()
    with sqlite_template.copy() as copy, listening(copy.url) as served:
        set_up(served)
        for chains in (80, 240, 480):
            if not wanted <= met:
                met |= follow_chains(served, chains)

    assert wanted <= met


def follow_chains(served: Served, chains: int) -> set[tuple[str, int]]:
    """Send so many made-up chains of requests, and give the operations that they came to with the statuses of their
    answers.

    The description is read anew, as the checker learns from what it has seen and would go other ways afterwards."""
    described_anew = schemathesis.openapi.from_dict(deepcopy(DOCUMENT), config=CONFIG)
    for into in ("stock", *SHOPS):
        bought = {"into": into, "paid_by": "ALDER", "quantity": 1_000_000, "amount": "7000000.00"}
        assert 201 == served.send("POST", "/purchases", bought).status_code
    met: set[tuple[str, int]] = set()

    class Chains(described_anew.as_state_machine()):  # type: ignore[misc]
        """Requests that go on from the answers before them, for members and a pool that are there."""

        def before_call(self, case: schemathesis.Case[Any]) -> None:
            if case.meta is None or not case.meta.generation.mode.is_positive:
                return
            case.headers["Authorization"] = f"Bearer {served.keys['keeper']}"
            case.path_parameters.update({"pool": POOL} if "pool" in case.path_parameters else {})
            if isinstance(case.body, dict) and set(SIDES) & set(case.body):
                shops = iter(SHOPS)
                case.body.update({side: next(shops) for side in SIDES if side in case.body})
                case.body.pop("effective_on", None)

        def get_call_kwargs(self, case: schemathesis.Case[Any]) -> dict[str, Any]:  # noqa: ARG002 - as it is called
            return {"base_url": served.address}

        def after_call(self, response: Any, case: schemathesis.Case[Any]) -> None:
            met.add((case.operation.definition.raw["operationId"], response.status_code))

        def validate_response(self, response: Any, case: schemathesis.Case[Any], **given: Any) -> None:
            # an ended key stays readable, so that it can still be told who recorded an entry
            kept = [use_after_free] if case.operation.definition.raw["operationId"] == "read_key" else []
            case.validate_response(response, excluded_checks=kept, transport_kwargs=given)

    Chains.run(
        settings=settings(
            max_examples=chains,
            stateful_step_count=6,
            derandomize=True,
            database=None,
            suppress_health_check=list(HealthCheck),
        )
    )
    return met
