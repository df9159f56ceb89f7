"""The look of the service's own pages: one plain document, escaped, without script, readable on a phone and on paper.

Whoever writes a page gives texts, which are escaped, and joins pieces of markup that were made here. The style is in
the page and allowed by its digest, so the page needs nothing from anywhere else.
"""

import base64
import hashlib
from collections.abc import Iterable
from html import escape

from starlette.responses import Response

_STYLE = """
:root { color-scheme: light dark; }
body { font: 1rem/1.5 system-ui, sans-serif; margin: 0 auto; max-width: 60rem; padding: 1rem; }
h1, h2, h3 { line-height: 1.2; overflow-wrap: anywhere; }
h3 { border-top: 1px solid; padding-top: 0.75rem; }
code, pre { font-family: ui-monospace, monospace; font-size: 0.9em; }
pre { overflow-x: auto; }
table { border-collapse: collapse; }
th, td { border-bottom: 1px solid; padding: 0.25rem 1rem 0.25rem 0; text-align: left; vertical-align: top; }
"""
_STYLE_DIGEST = base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()
_POLICY = (
    f"default-src 'none'; style-src 'sha256-{_STYLE_DIGEST}'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)

MEDIA_TYPE = "text/html"


class Markup(str):
    """Text that is markup already."""

    __slots__ = ()


def page(title: str, *blocks: Markup) -> Response:
    """Answer with a page with a heading."""
    return answer(written(title, *blocks))


def answer(document: bytes) -> Response:
    """Answer with a page that was written before."""
    return Response(document, media_type=MEDIA_TYPE, headers={"Content-Security-Policy": _POLICY})


def written(title: str, *blocks: Markup) -> bytes:
    """Write a page with a heading."""
    text = (
        f'<!DOCTYPE html>\n<html lang="en">\n<meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n<title>{escape(title)}</title>\n'
        f"<style>{_STYLE}</style>\n<main>\n<h1>{escape(title)}</h1>\n" + "\n".join(blocks) + "\n</main>\n</html>\n"
    )
    return text.encode()


def heading(level: int, text: str, *, anchor: str) -> Markup:
    """Give a heading that can be linked to."""
    return Markup(f'<h{level} id="{escape(anchor)}">{escape(text)}</h{level}>')


def paragraph(*parts: str) -> Markup:
    """Give a paragraph of texts and markup."""
    return Markup(f"<p>{''.join(map(_safe, parts))}</p>")


def code(text: str) -> Markup:
    """Give a text as code, inside a line."""
    return Markup(f"<code>{escape(text)}</code>")


def block(text: str) -> Markup:
    """Give a text as code of several lines."""
    return Markup(f"<pre>{escape(text)}</pre>")


def link(text: str, address: str) -> Markup:
    """Give a link."""
    return Markup(f'<a href="{escape(address)}">{escape(text)}</a>')


def listing(items: Iterable[str]) -> Markup:
    """Give a list."""
    return Markup("<ul>" + "".join(f"<li>{_safe(item)}</li>" for item in items) + "</ul>")


def table(head: Iterable[str], rows: Iterable[Iterable[str]]) -> Markup:
    """Give a table of texts and markup."""
    top = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in head)
    body = "".join("<tr>" + "".join(f"<td>{_safe(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    return Markup(f"<table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>")


def _safe(part: str) -> str:
    return part if isinstance(part, Markup) else escape(part)
