"""The service about itself: health, readiness, the pages of the problems, the description."""

import json
from html.parser import HTMLParser

import httpx
import pytest
from fastapi import FastAPI

from pool_api.rest.problem_types import BY_CODE
from tests.rest.asgi import call, make_app, told


@pytest.fixture(scope="module")
def app() -> FastAPI:
    return make_app()


def test_health_asks_nothing_of_anybody() -> None:
    async def never() -> list[str]:
        raise AssertionError("asked")

    assert call(make_app(ready=never, find_key=never), "GET", "/healthz").json() == {"status": "up"}


def test_readiness_is_503_and_names_what_is_missing() -> None:
    missing = ["database", "migrations"]

    async def ready() -> list[str]:
        return missing

    app = make_app(ready=ready)
    answer = call(app, "GET", "/readyz")

    assert told(answer) == (503, "not-ready")
    assert answer.json()["failing"] == ["database", "migrations"]
    assert answer.headers["retry-after"] == "5"
    missing.clear()
    assert call(app, "GET", "/readyz").json() == {"status": "ready"}


def test_every_problem_type_has_its_page_at_the_address_that_its_documents_name(app: FastAPI) -> None:
    listed = call(app, "GET", "/problems").json()["items"]

    assert [kind["code"] for kind in listed] == sorted(BY_CODE)
    for kind in listed:
        assert call(app, "GET", kind["type"]).json() == kind


def test_an_unknown_problem_type_has_no_page(app: FastAPI) -> None:
    assert told(call(app, "GET", "/problems/no-such-thing")) == (404, "not-found")


class Reader(HTMLParser):
    """Checks that every tag that is opened is closed, and gathers what a page fetches or runs."""

    VOID = ("meta", "br")

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.links: list[str] = []
        self.anchors: set[str] = set()
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        assert tag not in {"script", "img", "iframe", "object", "link", "form"}
        assert not [name for name in given if name.startswith("on") or name == "style"]
        self.links += [given["href"] or ""] if "href" in given else []
        self.anchors |= {given["id"] or ""} if "id" in given else set()
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert tag == self.open.pop()

    def handle_data(self, data: str) -> None:
        self.text += data


def read(answer: httpx.Response) -> Reader:
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    reader = Reader()
    reader.feed(answer.text)
    assert reader.open == []
    return reader


def test_a_browser_gets_the_pages_of_the_problems_as_pages(app: FastAPI) -> None:
    accept = {"Accept": "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"}
    listing = read(call(app, "GET", "/problems", headers=accept))
    page = read(call(app, "GET", "/problems/month-closed", headers=accept))

    assert listing.links == [kind.uri for kind in BY_CODE.values()]
    assert "Month closed" in page.text
    assert BY_CODE["month-closed"].advice in page.text


def test_a_page_of_no_accepted_form_is_406(app: FastAPI) -> None:
    for path in ("/problems", "/problems/month-closed"):
        assert told(call(app, "GET", path, headers={"Accept": "image/png"})) == (406, "not-acceptable")


def test_the_description_is_given_once_and_then_not_modified(app: FastAPI) -> None:
    first = call(app, "GET", "/openapi.json")
    again = call(app, "GET", "/openapi.json", headers={"If-None-Match": first.headers["etag"]})

    assert first.json()["openapi"].startswith("3.1")
    assert (again.status_code, again.content) == (304, b"")
    assert again.headers["etag"] == first.headers["etag"]


def test_the_reference_says_every_operation_and_every_object_and_its_links_lead_somewhere(app: FastAPI) -> None:
    document = json.loads(call(app, "GET", "/openapi.json").content)
    page = read(call(app, "GET", "/docs"))

    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            assert f"{method.upper()} {path}" in page.text
            assert operation["operationId"] in page.anchors
    for name in document["components"]["schemas"]:
        assert f"object-{name}" in page.anchors
    for link in page.links:
        assert link[1:] in page.anchors if link.startswith("#") else call(app, "GET", link).status_code == 200


def test_the_style_of_a_page_is_allowed_by_its_digest_and_nothing_else_is(app: FastAPI) -> None:
    import base64  # noqa: PLC0415
    import hashlib  # noqa: PLC0415

    answer = call(app, "GET", "/docs")
    style = answer.text.partition("<style>")[2].partition("</style>")[0]
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()

    assert f"style-src 'sha256-{digest}'" in answer.headers["content-security-policy"]
    assert "script-src" not in answer.headers["content-security-policy"]
    assert "unsafe" not in answer.headers["content-security-policy"]
