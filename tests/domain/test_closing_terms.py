"""A close is of the members that its preview was made with: where they are others by now, the keeper sees it."""

from collections.abc import Mapping
from dataclasses import replace

import pytest

from pool_api.domain.errors import PreviewStale
from pool_api.domain.pool import Member
from tests.domain.test_journal import BEGAN, DAY, MEMBERS, At, closing, decide

CHANGED: dict[str, Mapping[str, Member]] = {
    "a share": {"BIRCH": replace(MEMBERS["BIRCH"], share=2)},
    "the day that one left on": {"BIRCH": replace(MEMBERS["BIRCH"], left_on=DAY)},
    "the day that one joined on": {"DOGWOOD": replace(MEMBERS["DOGWOOD"], joined_on=BEGAN)},
    "who there is": {"ELM": Member(code="ELM", name="Elm", joined_on=BEGAN)},
}


@pytest.mark.parametrize("what", CHANGED)
def test_a_close_is_refused_once_its_members_are_others(what: str) -> None:
    with pytest.raises(PreviewStale):
        decide(At(closing("2026-10"), facts={"members": {**MEMBERS, **CHANGED[what]}}))


def test_another_name_is_no_reason() -> None:
    renamed = {"BIRCH": replace(MEMBERS["BIRCH"], name="Birch and Daughters")}

    assert closing("2026-10") == decide(At(closing("2026-10"), facts={"members": {**MEMBERS, **renamed}}))
