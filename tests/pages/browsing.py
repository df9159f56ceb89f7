"""A browser without a screen: goes to pages of the service in process, fills in their forms, and reads what they say.

It does what browsers do without script: keeps cookies, follows the way on after a form, says where a form comes from.
"""

from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass, field
from typing import cast

import httpx
from pool_web.beside import Beside
from selectolax.lexbor import LexborHTMLParser, LexborNode

from tests.served import InProcess, Served

ADDRESS = "https://pages.test"


class Beneath(httpx.BaseTransport):
    """Takes requests to the pages beside a service, on the event loop that the service runs on."""

    def __init__(self, served: Served) -> None:
        self._front = copy(cast("InProcess", served.http._transport))
        self._front._asgi = httpx.ASGITransport(
            Beside(self._front._asgi.app, served.clock.now), raise_app_exceptions=False
        )

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        return self._front.handle_request(request)


def pages_of(served: Served) -> httpx.Client:
    """Give what speaks with the pages beside a service."""
    return httpx.Client(transport=Beneath(served), base_url=ADDRESS)


@dataclass
class Browser:
    """Somebody's browser."""

    http: httpx.Client
    answer: httpx.Response = field(default_factory=lambda: httpx.Response(204))

    @property
    def page(self) -> LexborHTMLParser:
        return LexborHTMLParser(self.answer.text)

    @property
    def path(self) -> str:
        return self.answer.request.url.raw_path.decode()

    @property
    def says(self) -> str:
        """What the page's main part says, with single spaces."""
        return text_of(self.one("main"))

    def go(self, path: str) -> "Browser":
        return self._at(self.http.get(path, follow_redirects=True, headers={"Sec-Fetch-Site": "none"}))

    def one(self, selector: str) -> LexborNode:
        (found,) = self.page.css(selector)
        return found

    def send(self, fields: Mapping[str, str], *, form: str = "main form", button: str | None = None) -> "Browser":
        """Fill in a form, press one of its buttons (by its value), and follow the way on."""
        at = self.one(form)
        if button is not None:
            assert at.css(f'button[value="{button}"]'), f"there is no button {button}"
        filled = {**filled_in(at), **fields, **({"step": button} if button else {})}
        target = at.attributes.get("action") or self.path
        return self.post(target, filled)

    def send_file(self, content: bytes | None, fields: Mapping[str, str], *, button: str) -> "Browser":
        """Fill in the form with a file, None where none is chosen, and press one of its buttons."""
        at = self.one("main form")
        assert at.css(f'button[value="{button}"]'), f"there is no button {button}"
        filled = {**filled_in(at), **fields, "step": button}
        # a part for the file even where none was chosen, as browsers send it
        files = {"file": ("export" if content is not None else "", content or b"", "application/octet-stream")}
        target, headers = at.attributes.get("action") or self.path, {"Sec-Fetch-Site": "same-origin"}
        return self._at(self.http.post(target, data=filled, files=files, headers=headers, follow_redirects=True))

    def post(self, path: str, filled: Mapping[str, str], **headers: str) -> "Browser":
        told = {"Sec-Fetch-Site": "same-origin", **{name.replace("_", "-"): each for name, each in headers.items()}}
        return self._at(self.http.post(path, data=dict(filled), headers=told, follow_redirects=True))

    def _at(self, answer: httpx.Response) -> "Browser":
        """Come to a page. On none is what somebody has to mend folded away."""
        self.answer = answer
        if "html" in answer.headers.get("content-type", ""):
            assert [] == [text_of(each) for each in self.page.css("details:not([open]) .wrong")]
        return self


def filled_in(form: LexborNode) -> dict[str, str]:
    """Give what a form's fields hold as the page gave them."""
    found = {}
    for each in form.css("input[name]"):
        if each.attributes.get("type") != "checkbox" or "checked" in each.attributes:
            found[each.attributes["name"] or ""] = each.attributes.get("value") or ""
    for each in form.css("textarea[name]"):
        found[each.attributes["name"] or ""] = each.text()
    for each in form.css("select[name]"):
        chosen = each.css_first("option[selected]") or each.css_first("option")
        found[each.attributes["name"] or ""] = (chosen.attributes.get("value") or "") if chosen else ""
    return found


def text_of(node: LexborNode) -> str:
    """Give a node's text with single spaces."""
    return " ".join(node.text(separator=" ").split())
