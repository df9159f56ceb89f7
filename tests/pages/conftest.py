"""What the tests of the pages share: a browser of the keeper's, signed in."""

from collections.abc import Iterator

import httpx
import pytest

from tests.pages.browsing import Browser, pages_of
from tests.served import Served


@pytest.fixture
def pages(service: Served) -> Iterator[httpx.Client]:
    """What speaks with the pages of the service."""
    with pages_of(service) as http:
        yield http


@pytest.fixture
def keeper(service: Served, pages: httpx.Client) -> Browser:
    """The keeper's browser, signed in, on the first page."""
    return signed_in(service, pages, "keeper")


def signed_in(service: Served, pages: httpx.Client, role: str) -> Browser:
    """Give the browser of somebody who has just signed in with a key of a role."""
    pages.cookies.clear()
    return Browser(pages).go("/sign-in").send({"token": service.keys[role]}, form="#by-key")
