"""API keys: form, digest, randomness."""

import hashlib
import secrets

import pytest

from pool_api.domain.keys import Kind, issue, key_digest, kind_of


def test_a_key_has_a_public_part_and_160_secret_bits() -> None:
    asked = []

    def random_hex(size: int) -> str:
        asked.append(size)
        return "0f" * size

    issued = issue(Kind.KEY, random_hex)

    assert issued.text == "cp_" + "0f" * 6 + "_" + "0f" * 20
    assert issued.public == "0f" * 6
    assert asked == [6, 20]
    assert kind_of(issued.text) is Kind.KEY


def test_a_key_is_remembered_by_the_sha256_of_its_text() -> None:
    issued = issue(Kind.KEY, secrets.token_hex)

    assert hashlib.sha256(issued.text.encode()).hexdigest() == issued.digest
    assert issued.digest == key_digest(issued.text)
    assert issued.text.rsplit("_", 1)[1] not in issued.digest


def test_no_two_keys_are_alike() -> None:
    issued = [issue(Kind.KEY, secrets.token_hex) for _ in range(200)]

    assert len({key.public for key in issued}) == 200
    assert len({key.digest for key in issued}) == 200


@pytest.mark.parametrize(
    "text",
    [
        "",
        "cp_",
        "cp_" + "a" * 12 + "_" + "1" * 39,
        "cp_" + "a" * 12 + "_" + "1" * 41,
        "cp_" + "a" * 11 + "_" + "1" * 40,
        "cp_" + "A" * 12 + "_" + "1" * 40,
        "cp_" + "a" * 12 + "_" + "g" * 40,
        "cq_" + "a" * 12 + "_" + "1" * 40,
        " cp_" + "a" * 12 + "_" + "1" * 40,
        "cp_" + "a" * 12 + "_" + "1" * 40 + "\n",
        "cp_" + "a" * 12 + "_" + "١" * 40,
    ],
)
def test_other_text_is_no_key(text: str) -> None:
    assert kind_of(text) is None
