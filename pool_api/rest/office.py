"""How a route gets at what the composition root made: the office, and the cursors of lists."""

from typing import Annotated

from fastapi import Depends, Request

from pool_api.rest.pages import Cursors
from pool_api.services.office import Office


async def office_of(request: Request) -> Office:
    """Give the office of the app that serves a request."""
    office: Office = request.app.state.office
    return office


OfficeOf = Annotated[Office, Depends(office_of)]
"""For a route's argument."""


async def cursors_of(request: Request) -> Cursors:
    """Give the cursors of the app that serves a request."""
    cursors: Cursors = request.app.state.cursors
    return cursors


CursorsOf = Annotated[Cursors, Depends(cursors_of)]
"""For a route's argument."""
