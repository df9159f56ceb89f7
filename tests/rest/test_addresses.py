"""Addresses: the tree of segments beside a slow twin that tries every path format."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pool_api.rest.addresses import Addresses, allowed, parameters_of

FORMATS = [
    "/v1/pools",
    "/v1/pools/{pool}",
    "/v1/pools/{pool}/loans",
    "/v1/pools/{pool}/journal",
    "/v1/pools/{pool}/journal/{number}",
    "/v1/pools/{pool}/journal/verification",
    "/v1/pools/{pool}/months/{month}/statements/{member}",
    "/v1/{thing}/last",
]


def tree() -> Addresses[str]:
    addresses: Addresses[str] = Addresses()
    for path_format in FORMATS:
        addresses.add(path_format, "GET", path_format)
    return addresses


@pytest.mark.parametrize(
    ("path", "path_format", "values"),
    [
        ("/v1/pools", "/v1/pools", []),
        ("/v1/pools/riverside", "/v1/pools/{pool}", ["riverside"]),
        ("/v1/pools/loans/loans", "/v1/pools/{pool}/loans", ["loans"]),
        ("/v1/pools/riverside/journal/verification", "/v1/pools/{pool}/journal/verification", ["riverside"]),
        ("/v1/pools/riverside/journal/42", "/v1/pools/{pool}/journal/{number}", ["riverside", "42"]),
        ("/v1/pools/last", "/v1/pools/{pool}", ["last"]),
        ("/v1/stock/last", "/v1/{thing}/last", ["stock"]),
        (
            "/v1/pools/r/months/2026-11/statements/ALDER",
            "/v1/pools/{pool}/months/{month}/statements/{member}",
            ["r", "2026-11", "ALDER"],
        ),
    ],
)
def test_a_path_leads_to_its_address_words_before_parameters(path: str, path_format: str, values: list[str]) -> None:
    assert tree().find(path) == ({"GET": path_format}, values)


@pytest.mark.parametrize(
    "path",
    [
        "",
        "/",
        "v1/pools",
        "/v1",
        "/v1/pools/",
        "/v1//pools",
        "//v1/pools",
        "/v1/pools//loans",
        "/v1/pools/riverside/loans/",
        "/v1/pools/riverside/loans\n",
        "/V1/pools",
        "/v1/pools/riverside/journal/42/more",
        "*",
    ],
)
def test_no_other_path_leads_anywhere(path: str) -> None:
    assert tree().find(path) is None


@given(
    st.lists(st.sampled_from(["", "v1", "pools", "riverside", "journal", "verification", "loans", "last"]), max_size=6)
)
def test_a_path_is_found_exactly_when_some_format_fits(segments: list[str]) -> None:
    path = "".join(f"/{segment}" for segment in segments)
    fitting = [each for each in FORMATS if re.fullmatch(re.sub(r"\{\w+\}", "[^/]+", each), path)]

    found = tree().find(path)

    assert bool(fitting) is (found is not None)
    assert found is None or found[0]["GET"] in fitting


def test_methods_of_one_address_stand_together_whatever_their_parameters_are_called() -> None:
    addresses: Addresses[str] = Addresses()
    addresses.add("/pools/{pool}", "GET", "read")
    addresses.add("/pools/{id}", "PUT", "put")

    assert addresses.find("/pools/x") == ({"GET": "read", "PUT": "put"}, ["x"])


@pytest.mark.parametrize("path_format", ["/a/{b}.csv", "/a/x{b}", "/a/{b:path}", "/a/{b", "/a/{}"])
def test_a_segment_that_mixes_is_a_mistake(path_format: str) -> None:
    with pytest.raises(ValueError, match="a segment is a word or a parameter"):
        Addresses[str]().add(path_format, "GET", "x")


def test_a_method_that_stands_twice_is_a_mistake() -> None:
    addresses = tree()

    with pytest.raises(ValueError, match=r"GET /v1/pools/\{id\} stands twice"):
        addresses.add("/v1/pools/{id}", "GET", "x")


def test_parameters_are_named_in_order() -> None:
    assert parameters_of("/v1/pools/{pool}/months/{month}/statements/{member}") == ("pool", "month", "member")
    assert parameters_of("/v1/pools") == ()


def test_allowed_methods_include_those_that_the_service_adds() -> None:
    assert allowed({"POST": 1, "GET": 1}) == ["GET", "HEAD", "OPTIONS", "POST"]
    assert allowed({"POST": 1}) == ["OPTIONS", "POST"]
