"""A server killed in the middle of its work, again and again, or told to stop: what it acknowledged is there, and
nothing twice."""

import random
import time

from tests.databases import Database
from tests.e2e.servers import Load, keeper_of, kept_under_keys, starting

SEED, ROUNDS = 20261125, 12
RESTART_S = 0.05
"""A server that starts is killed again within that time."""


def test_what_a_killed_server_acknowledged_is_there_once_and_in_its_place(database: Database) -> None:
    chance = random.Random(SEED)  # noqa: S311 - repeatable, not secret
    load = Load(keeper_of(database.url))
    with starting(database.url) as starter:
        for _ in range(ROUNDS):
            with starter.serving() as server:
                load.ask_again(server.address)
                load.run(server.address, server.kill, after=chance.randint(1, 60))
            again = starter.start()
            time.sleep(chance.uniform(0, RESTART_S))
            again.kill()
        with starter.serving() as server:
            load.ask_again(server.address)

    assert load.acknowledged == kept_under_keys(database.url)
    assert len(load.acknowledged) >= ROUNDS


def test_a_server_that_is_told_to_stop_answers_all_that_it_records(database: Database) -> None:
    """Who isn't answered can be sure that nothing was recorded, as the server ended in peace."""
    load = Load(keeper_of(database.url))
    with starting(database.url) as starter, starter.serving() as server:
        load.run(server.address, server.tell_to_stop, after=50)

    assert load.acknowledged == kept_under_keys(database.url)
    assert len(load.acknowledged) >= 50
