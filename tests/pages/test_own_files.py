"""What browsers keep, and what goes out compressed: the site's own files, and drawings, but no page."""

import gzip

import pytest
from pool_web.site import ASSETS

from tests.databases import SqliteTemplate
from tests.pages.browsing import Browser
from tests.served import POOL

HOME = f"/book/{POOL}"
FOR_EVER = "public, max-age=31536000, immutable"


@pytest.fixture
def template(sqlite_template: SqliteTemplate) -> SqliteTemplate:
    """One database will do: files know none."""
    return sqlite_template


def addresses(browser: Browser) -> list[str]:
    """Give the addresses of files that a page names."""
    named = [
        each.attributes.get("src") or each.attributes.get("href") or "" for each in browser.page.css("[src], link")
    ]
    return [each for each in named if each.startswith("/assets/")]


def test_files_are_kept_under_addresses_that_name_their_content(keeper: Browser) -> None:
    named = set(addresses(keeper))

    assert {"mark.svg", "pages.css", "pages.js"} == {each.removeprefix("/assets/").partition("?")[0] for each in named}
    for each in named:
        assert FOR_EVER == keeper.http.get(each).headers["cache-control"], each


@pytest.mark.parametrize("query", ["", "?is=0123456789abcdef", "?is="])
def test_a_file_under_another_name_is_given_once(keeper: Browser, query: str) -> None:
    answer = keeper.http.get(f"/assets/pages.css{query}")

    assert "no-cache" == answer.headers["cache-control"]
    assert (ASSETS / "pages.css").read_bytes() == answer.content


def test_a_file_that_is_not_there_is_not_found(keeper: Browser) -> None:
    assert 404 == keeper.http.get("/assets/own_files.py").status_code


@pytest.mark.parametrize(
    ("said", "packed"),
    [
        ("gzip, deflate, br", True),
        ("br;q=1.0, GZIP;q=0.5", True),
        ("identity", False),
        ("gzip;q=0, br", False),
        ("gzip; q=0.000", False),
        ("x-gzip", False),
    ],
)
def test_files_go_out_compressed_where_the_browser_takes_that(keeper: Browser, said: str, packed: bool) -> None:
    path = addresses(keeper)[1]
    plain = keeper.http.get(path, headers={"Accept-Encoding": "identity"})
    with keeper.http.stream("GET", path, headers={"Accept-Encoding": said}) as answer:
        sent = b"".join(answer.iter_raw())

    assert ("gzip" if packed else None) == answer.headers.get("content-encoding")
    assert plain.content == (gzip.decompress(sent) if packed else sent)
    assert "Accept-Encoding" == answer.headers["vary"]
    assert str(len(sent)) == answer.headers["content-length"]


@pytest.mark.parametrize("path", ["", "/record/loan", "/entries", "/cost"])
def test_pages_are_neither_kept_nor_compressed(keeper: Browser, path: str) -> None:
    headers = keeper.go(f"{HOME}{path}").answer.headers

    assert "no-store" == headers["cache-control"]
    assert "content-encoding" not in headers


def test_drawings_go_out_compressed_and_are_kept_by_nobody(keeper: Browser) -> None:
    headers = keeper.http.get(f"{HOME}/cost/plot.svg").headers

    assert "gzip" == headers["content-encoding"]
    assert "no-store" == headers["cache-control"]
