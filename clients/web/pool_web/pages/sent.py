"""The vendor's file that a form of two steps is about, sent or carried along; and the layout by which it is read."""

from collections.abc import Awaitable, Callable
from typing import Any, TypeVar

from pool_client.calls.call import Versioned
from pool_client.errors import Missing

from pool_web.carried import DIGEST, FILE, File, carried_file
from pool_web.forms import Form
from pool_web.visit import Visit

T = TypeVar("T")

SHOWN = "shown"
"""The field in which a form carries what stands for all that was shown."""
MOVED = "This is not what you saw before, so nothing was entered. Look at it, and enter it then."
ANOTHER = "This is another file than the one that you looked at, so nothing was taken. Look at this one first."
_AGAIN = "Choose the file again: it is too large to be carried along."


async def file_of(visit: Visit, filled: Form) -> File | None:
    """Give the file that came with a form or in it; where there is none that is said beside its field."""
    sent = await visit.file(FILE)
    file = File(sent) if sent is not None else carried_file(filled.texts)
    if file is None:
        filled.problems[FILE] = _AGAIN if filled[DIGEST] else "Choose a file."
    return file


async def keep(profile: T, read: Awaitable[Versioned[T]], put: Callable[..., Awaitable[Any]]) -> None:
    """Keep a layout, if it isn't kept as it is."""
    try:
        kept = await read
    except Missing:
        await put(profile)
        return
    if kept.value != profile:
        await put(profile, tag=kept.tag)
