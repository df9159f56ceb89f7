"""Commands of the catalogue against the real service: files entered whole or not at all, items by hand."""

from collections.abc import Callable
from pathlib import Path

import pytest
from pool_client.command import run

from tests.served import POOL, Served

Pool = Callable[..., int]


@pytest.fixture
def pool(service: Served) -> Pool:
    environ = {
        "CREDIT_POOL_ADDRESS": service.address,
        "CREDIT_POOL_POOL": POOL,
        "CREDIT_POOL_KEY": service.keys["keeper"],
    }
    return lambda *line: run(line, environ, service.http)


def codes(service: Served) -> list[str]:
    return [each.code for each in service.book().catalogue_items()]


def test_a_file_with_rows_set_aside_is_entered_only_without_them_expressly(
    pool: Pool, service: Served, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "list.csv"
    file.write_text("Article,Credits\nCAL-S,12\nCAL-M,24\nCAL-X,some\n")

    assert 1 == pool("enter-catalogue", "2026-11-01", str(file))
    assert "line 4 is set aside" in capsys.readouterr().err
    assert [] == list(service.book().catalogues())
    assert 0 == pool("enter-catalogue", "2026-11-01", str(file), "--leave-out")
    assert ["CAL-M", "CAL-S"] == codes(service)
    file.write_text("Article,Credits\nCAL-S,13\n")
    assert 0 == pool("enter-catalogue", "2026-11-01", str(file))
    assert ["CAL-S"] == codes(service)
    assert "(version 2), items: 1" in capsys.readouterr().out


def test_a_guess_is_saved_and_used(pool: Pool, service: Served, tmp_path: Path) -> None:
    file = tmp_path / "list.csv"
    file.write_text("Article,Credits\nCAL-S,12\n")

    assert 0 == pool("read-catalogue", str(file), "--save-as", "norvane")
    assert 0 == pool("enter-catalogue", "2026-11-01", str(file), "--profile", "norvane")
    assert "Article" == service.book().catalogue_profile(name="norvane").value.code
    file.write_text("Alpha,Beta\nCAL-S,twelve\n")
    assert 1 == pool("read-catalogue", str(file), "--save-as", "other")


def test_what_is_not_given_of_an_item_stays_as_it_was(pool: Pool, service: Served) -> None:
    assert 0 == pool("put-item", "2026-11-01", "CAL-S", "12", "--name", "Small", "--class", "car", "--trade-only")
    assert 0 == pool("put-item", "2026-11-01", "ALL", "20", "--covers-class", "car", "--covers", "CAL-S")
    assert 0 == pool("put-item", "2026-11-01", "CAL-S", "14", "--family", "K2")

    found = {each.code: each for each in service.book().catalogue_items()}
    small, bundle = found["CAL-S"], found["ALL"]
    assert (14, "Small", "car", "K2", True, False) == (
        small.credits, small.name, small.vehicle_class, small.family, small.trade_only, small.road_restricted,
    )  # fmt: skip
    assert (("CAL-S",), ("car",)) == (bundle.covers.items, bundle.covers.classes)
    assert 0 == pool("drop-item", "2026-11-01", "ALL")
    assert ["CAL-S"] == codes(service)
    assert 2 == pool("drop-item", "2026-11-01", "ALL")
    assert 0 == pool("withdraw-catalogue", "2026-11-01")
    assert [] == list(service.book().catalogues())


def test_csv_and_json_exclude_each_other(pool: Pool) -> None:
    assert 2 == pool("earnings", "2026-11", "--csv", "--json")
