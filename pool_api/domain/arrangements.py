"""What members arrange before anything of it stands in the journal: joint orders, and requests for credits.

An arrangement is its steps: facts of who said what when, numbered from 1, only ever added. What stands is their fold,
which rounds.py and requests.py know. Nothing happens by itself: that an instant has passed is seen by whoever looks.
"""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from pool_api.domain.entries import Json
from pool_api.domain.errors import TooSoon
from pool_api.domain.values import instant_text


class Matter(StrEnum):
    """What is arranged."""

    ROUND = "round"
    REQUEST = "request"


class StepKind(StrEnum):
    """What was done: the first five in a round, the others about a request for credits."""

    OPENED = "opened"
    COMMITTED = "committed"
    EXTENDED = "extended"
    CLOSED = "closed"
    CALLED_OFF = "called_off"
    ASKED = "asked"
    TAKEN_UP = "taken_up"
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step. member is the one that it is about; until is the instant up to which what it says holds; content is
    what else it says. One that isn't kept yet has number 0 and no instant."""

    number: int = 0
    kind: StepKind
    member: str | None = None
    until: str | None = None
    content: Json
    made_by: str
    made_at: str = ""


def later(stated: str, than: str) -> str:
    """Give a stated instant in the form in which instants are kept and compared. Refuses: TooSoon unless it is later
    than another one."""
    at = instant_text(datetime.fromisoformat(stated))
    if at <= than:
        raise TooSoon(stated=at, than=than)
    return at
