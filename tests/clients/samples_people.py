"""Samples of the calls about people, as samples.py has those of all others."""

from datetime import UTC, date, datetime
from typing import Any

from pool_client.models.directory import Role
from pool_client.models.people import PoolPerson

from tests.clients.samples_catalogue import BUYING_AND_CATALOGUE

KEY = "4f1c2a9e-loan-1"
TOKEN = "cpi_4f0c8e12ab34_" + "5" * 40
TICKET = "cpt_00006723a1b4_" + "5" * 40
INES = PoolPerson(
    person="p4f0c8e12ab34",
    name="Ines Walder",
    role=Role.CLERK,
    member="ALDER",
    joined_at=datetime(2026, 11, 3, tzinfo=UTC),
)
EVENTS = {
    "kind": "role_changed",
    "who": INES.person,
    "from_day": date(2026, 11, 1),
    "to_day": date(2026, 11, 3),
    "limit": 5,
}

Samples = dict[str, list[tuple[tuple[Any, ...], dict[str, Any]]]]

PEOPLE_OF_SERVICE: Samples = {
    "sign_in": [((), {"name": "Ines Walder", "password": "four words in a row", "label": "phone"})],
    "complete_sign_in": [((), {"name": "Ines Walder", "ticket": TICKET, "code": "081 804", "label": "phone"})],
    "second_factor": [((), {})],
    "begin_second_factor": [((), {})],
    "confirm_second_factor": [((), {"code": "081804"})],
    "renew_recovery_codes": [((), {"code": "081804"})],
    "take_off_second_factor": [((), {"code": "081804"})],
    "who": [((), {})],
    "sign_out": [((), {})],
    "confirm_session": [((), {"password": "four words in a row"})],
    "sessions": [((), {"limit": 5})],
    "end_session": [((), {"session": "4f0c8e12ab34"})],
    "end_other_sessions": [((), {})],
    "change_password": [((), {"current": "four words in a row", "new": "four more words in a row"})],
    "open_invitation": [((), {"token": TOKEN})],
    "accept_invitation": [
        ((), {"token": TOKEN, "name": "Ines Walder", "password": "four words in a row", "label": "phone"}),
    ],
    "own_access_events": [((), EVENTS)],
}
ELSEWHERE_OF_POOL: Samples = {
    **BUYING_AND_CATALOGUE,
    "people": [((), {"limit": 5})],
    "person": [((), {"person": INES.person})],
    "put_person": [((INES,), {"tag": '"3"'})],
    "take_person_out": [((), {"person": INES.person})],
    "invitations": [((), {"limit": 5})],
    "invitation": [((), {"invitation": "4f0c8e12ab34"})],
    "invite": [((), {"role": Role.CLERK, "member": "ALDER", "note": "the counter", "idempotency_key": KEY})],
    "withdraw_invitation": [((), {"invitation": "4f0c8e12ab34"})],
    "access_events": [((), EVENTS)],
}
"""Of a pool, those of buying and of the catalogue too."""
