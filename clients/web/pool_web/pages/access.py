"""What happened with access to the pool: who signed in, was refused, was let in or out, and by whom."""

from typing import Any

from pool_client.calls import access
from pool_client.happenings import KINDS
from starlette.responses import Response

from pool_web.forms import Form
from pool_web.visit import Visit, listed, page, together

_ROWS = 50


async def show(visit: Visit) -> Response:
    """List what happened, newest first, as the address asks for it."""
    asked = Form(texts=visit.query, key="")
    wanted: dict[str, Any] = {name: asked[name] or None for name in ("kind", "who")}
    wanted |= {name: asked.day(name) for name in ("from_day", "to_day")}
    found, people, keys = await together(
        visit.page_of(access.access_events(visit.place("pool"), limit=_ROWS, **wanted)),
        listed(visit.book.people()),
        listed(visit.book.keys()),
    )
    choices = [
        *((each.person, each.name) for each in people),
        *((each.key_id, f"{each.name} (a key)") for each in keys),
    ]
    return visit.show(
        "access.html", found=found, form=asked, who_choices=choices, kinds=sorted(KINDS.items(), key=_by_words)
    )


def _by_words(kind: tuple[str, str]) -> str:
    return kind[1]


ROUTES = (page("/people/access", show),)
