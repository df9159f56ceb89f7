"""A zip that goes out while it is made: what other programs find in it, and how much of it is ever waiting."""

import shutil
import subprocess
from collections.abc import Iterator
from datetime import date
from io import BytesIO
from pathlib import Path
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile

import pytest

from pool_api.reports.archive import zipped

ON = date(2026, 10, 31)
FILES = [("a.csv", b"section,entry\r\n" * 5_000), ("b.csv", b""), ("\u00fc.csv", b"\x00\xff")]


def whole(*, packed: bool = False) -> bytes:
    return b"".join(zipped(FILES, ON, packed=packed))


@pytest.mark.parametrize(("packed", "way"), [(False, ZIP_DEFLATED), (True, ZIP_STORED)])
def test_the_files_are_in_it(packed: bool, way: int) -> None:
    with ZipFile(BytesIO(whole(packed=packed))) as found:
        assert found.testzip() is None
        assert FILES == [(each.filename, found.read(each)) for each in found.infolist()]
        assert {(way, (2026, 10, 31, 0, 0, 0))} == {(each.compress_type, each.date_time) for each in found.infolist()}
    assert (len(whole(packed=packed)) > sum(len(content) for _, content in FILES)) == packed


@pytest.mark.skipif(shutil.which("unzip") is None, reason="needs Info-ZIP's unzip, an outside reader")
def test_another_program_unpacks_it(tmp_path: Path) -> None:
    (tmp_path / "statements.zip").write_bytes(whole())

    subprocess.run(["unzip", "-q", "statements.zip"], cwd=tmp_path, check=True)  # noqa: S607 - a reader, as found

    assert FILES[0][1] == (tmp_path / "a.csv").read_bytes()


def test_the_same_files_give_the_same_bytes() -> None:
    assert whole() == whole()


def test_one_of_no_files_is_a_zip_all_the_same() -> None:
    with ZipFile(BytesIO(b"".join(zipped([], ON, packed=False)))) as found:
        assert [] == found.namelist()


def test_each_file_goes_out_before_the_next_is_asked_for() -> None:
    asked: list[str] = []

    def files() -> Iterator[tuple[str, bytes]]:
        for name, content in FILES:
            asked.append(name)
            yield name, content

    parts = zipped(files(), ON, packed=True)
    for so_far, (name, content) in enumerate(FILES, start=1):
        part = next(parts)
        assert name.encode() in part
        assert content in part
        assert so_far == len(asked)
