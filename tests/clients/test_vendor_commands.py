"""Files of the vendor on the command line: sent as what they are, guessed again where a profile doesn't fit."""

import json

import httpx
import pytest
from pool_client.calls.call import CSV, SHEETS
from pool_client.calls.vendor import import_record

from tests.clients.document import answered
from tests.clients.samples import PROFILE
from tests.clients.scripted import problem
from tests.clients.shop import SET, Shop
from tests.intake.made import ods, xlsx

TABLE = [("Day", "Credits"), ("2026-10-01", 5)]
CONTENTS = {
    CSV: b"Day;Credits\n2026-10-01;5\n",
    SHEETS["xlsx"]: xlsx({"S": TABLE}),
    SHEETS["ods"]: ods({"S": TABLE}),
    SHEETS["xlsb"]: b"PK\x03\x04 .. xl/workbook.bin ..",
    SHEETS["xls"]: b"\xd0\xcf\x11\xe0 ..",
}


@pytest.mark.parametrize("media_type", CONTENTS)
def test_a_file_is_sent_as_what_its_bytes_say(media_type: str) -> None:
    call = import_record("riverside", CONTENTS[media_type], member="ALDER", profile="norvane")

    assert media_type == getattr(call.body, "media_type", None)


def test_a_guess_is_written_into_a_file_that_can_be_saved_as_a_profile(shop: Shop) -> None:
    file, into = shop.home / "export.csv", shop.home / "guess.json"
    file.write_bytes(CONTENTS[CSV])
    shop.serve = answered

    assert 0 == shop.run("propose-profile", str(file), "norvane", "--write", str(into), **SET)
    assert "guess.json; correct it and save it with save-profile" in shop.err
    assert {"name", "day", "record"} <= json.loads(into.read_text()).keys()
    assert 2 == shop.run("propose-profile", str(file), "norvane", "--write", str(into), **SET)
    assert 0 == shop.run("save-profile", str(into), **SET)


def test_where_a_profile_does_not_fit_a_new_guess_is_shown_beside_the_refusal(shop: Shop) -> None:
    def serve(request: httpx.Request) -> httpx.Response:
        return problem(422, "column-missing") if "vendor-records" in request.url.path else answered(request)

    file = shop.home / "export.csv"
    file.write_bytes(CONTENTS[CSV])
    shop.serve = serve

    assert 1 == shop.run("import", str(file), "ALDER", "--profile", PROFILE.name, **SET)
    assert "Columns as understood" in shop.out
    assert [True, True] == ["norvane" in str(request.url) for request in shop.requests]
