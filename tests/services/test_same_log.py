"""The same requests, with the same clock and identifiers, get the same answers and the same chain on both databases."""

from tests.databases import PostgresqlTemplate, SqliteTemplate
from tests.rest.test_worked_example import record_example
from tests.served import Served, serving, set_up


def play(served: Served) -> list[tuple[int, bytes]]:
    """Send a log of requests, fine ones and refused ones, and give every answer."""
    set_up(served)
    record_example(served)
    send = served.send
    answers = [
        send("POST", "/draws", {"member": "ALDER", "quantity": 999}),
        send("POST", "/reversals", {"entry": 4, "quantity": 3, "effective_on": "2026-09-10"}),
        send("POST", "/loans", {"lender": "ALDER", "borrower": "BIRCH", "quantity": 2, "note": "Grüße, 你好 'x'"}),
        send("GET", "/journal?text=GRÜSSE&limit=5"),
        send("GET", "/journal?limit=3"),
        send("GET", "/months/2026-09"),
    ]
    digest = send("GET", "/months/2026-09/settlement").json()["digest"]
    answers += [
        send("POST", "/months/2026-09/close", {"digest": digest}),
        send("POST", "/draws", {"member": "ALDER", "quantity": 1, "effective_on": "2026-09-30"}),
        send("POST", "/reversals", {"entry": 5, "quantity": 7, "effective_on": "2026-10-01"}),
        send("GET", "/months/2026-10"),
        send("GET", "/positions?as_of=2026-10-01"),
        send("GET", "/settlement-payments"),
        send("GET", "/journal/verification"),
        send("GET", "/members"),
        send("GET", "/keys"),
    ]
    return [(answer.status_code, answer.content) for answer in answers]


def test_both_databases_give_the_same_answers_and_chains(
    sqlite_template: SqliteTemplate, postgresql_template: PostgresqlTemplate
) -> None:
    played = []
    for template in (sqlite_template, postgresql_template):
        with template.copy() as copy, serving(copy.url) as served:
            played.append(play(served))

    assert played[0] == played[1]
    assert {200, 201, 409} == {status for status, _ in played[0]}
