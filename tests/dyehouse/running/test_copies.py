"""Daily copies: whole, proved, seven kept, and a spoilt one is found out."""

from __future__ import annotations

import datetime as dt
import sqlite3
from pathlib import Path

import pytest
from django.contrib.auth import get_user_model
from django.db import connection

from dyehouse.running import copies
from dyehouse.running.copies import CopyFailed, last_good_copy, make_copy, verify_copy

NOON = dt.datetime(2026, 3, 10, 12, tzinfo=dt.UTC)

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def house(settings, tmp_path: Path) -> Path:
    """A data folder of its own with two photos in it."""
    settings.DATA = tmp_path
    settings.MEDIA_ROOT = tmp_path / "photos"
    (tmp_path / "photos" / "lots").mkdir(parents=True)
    (tmp_path / "photos" / "lots" / "a.jpg").write_bytes(b"first picture" * 100)
    (tmp_path / "photos" / "b.jpg").write_bytes(b"second picture" * 100)
    return tmp_path


def only_sqlite() -> None:
    if connection.vendor != "sqlite":
        pytest.skip("about SQLite's file")


@pytest.mark.both_engines
def test_a_copy_holds_the_database_and_every_photo(house: Path) -> None:
    copy = make_copy(now=NOON)

    assert copy.folder == house / "copies" / "2026-03-10"
    assert copy.photos == 2
    assert copy.database_bytes > 0
    assert (copy.folder / "photos" / "lots" / "a.jpg").read_bytes() == b"first picture" * 100
    assert verify_copy(copy.folder) == copy
    assert last_good_copy() == copy


def test_the_copied_database_opens_with_what_was_in_it() -> None:
    only_sqlite()
    get_user_model()._default_manager.create(username="rowan", role="owner")

    copy = make_copy(now=NOON)

    copied = sqlite3.connect(copy.folder / "database.sqlite3")
    assert copied.execute("SELECT username FROM studio_user").fetchall() == [("rowan",)]
    copied.close()


def test_a_copy_is_one_file_without_a_log_beside_it() -> None:
    only_sqlite()

    copy = make_copy(now=NOON)

    assert sorted(path.name for path in copy.folder.iterdir()) == [
        "database.sqlite3",
        "manifest.json",
        "photos",
    ]


def test_seven_days_are_kept_and_the_oldest_goes(house: Path) -> None:
    for day in range(9):
        make_copy(now=NOON + dt.timedelta(days=day))

    kept = [folder.name for folder in copies.dated_folders(house / "copies")]
    assert kept == [f"2026-03-{day}" for day in range(12, 19)]


def test_a_second_copy_on_one_day_takes_the_place_of_the_first(house: Path) -> None:
    make_copy(now=NOON)
    (house / "photos" / "c.jpg").write_bytes(b"third")

    copy = make_copy(now=NOON + dt.timedelta(hours=1))

    assert copy.photos == 3
    assert [path.name for path in (house / "copies").iterdir()] == ["2026-03-10"]


def test_an_unchanged_photo_is_shared_between_copies_but_never_with_the_live_folder(house: Path) -> None:
    first = make_copy(now=NOON)
    second = make_copy(now=NOON + dt.timedelta(days=1))

    live, one, two = (folder / "photos" / "b.jpg" for folder in (house, first.folder, second.folder))
    assert one.stat().st_ino == two.stat().st_ino
    assert live.stat().st_ino != one.stat().st_ino


def test_a_photo_that_rotted_in_yesterdays_copy_is_copied_afresh(house: Path) -> None:
    first = make_copy(now=NOON)
    (first.folder / "photos" / "b.jpg").write_bytes(b"rotten picture" * 100)

    second = make_copy(now=NOON + dt.timedelta(days=1))

    assert (second.folder / "photos" / "b.jpg").read_bytes() == b"second picture" * 100


def test_a_spoilt_database_in_a_copy_is_found_out() -> None:
    copy = make_copy(now=NOON)
    database = next(copy.folder.glob("database.*"))
    content = bytearray(database.read_bytes())
    content[len(content) // 2] ^= 0xFF
    database.write_bytes(content)

    with pytest.raises(CopyFailed, match="is not what was copied"):
        verify_copy(copy.folder)


def test_a_database_that_fails_sqlites_own_checks_is_never_called_a_copy(tmp_path: Path) -> None:
    broken = tmp_path / "broken.sqlite3"
    with sqlite3.connect(broken) as made:
        made.execute("CREATE TABLE lot (id INTEGER PRIMARY KEY)")
        made.execute("CREATE TABLE line (id INTEGER PRIMARY KEY, lot REFERENCES lot)")
        made.execute("INSERT INTO line VALUES (1, 99)")
    made.close()

    with pytest.raises(CopyFailed, match="refer to rows which are not there"):
        copies.copy_sqlite(broken, tmp_path / "copy.sqlite3")
    assert not (tmp_path / "copy.sqlite3").exists()


def test_a_file_that_is_no_database_is_refused_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "not.sqlite3").write_bytes(b"not a database at all" * 400)

    with pytest.raises(CopyFailed, match=r"could not be copied|cannot be read"):
        copies.copy_sqlite(tmp_path / "not.sqlite3", tmp_path / "copy.sqlite3")


def test_the_last_good_copy_passes_over_one_that_is_cut_short(house: Path) -> None:
    good = make_copy(now=NOON)
    short = make_copy(now=NOON + dt.timedelta(days=1))
    (short.folder / "photos" / "b.jpg").unlink()

    assert last_good_copy() == good


def test_there_is_no_last_copy_before_the_first() -> None:
    assert last_good_copy() is None


def test_a_copy_that_fails_leaves_the_earlier_one_of_that_day(
    house: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = make_copy(now=NOON)

    def full_disk(*args: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(copies, "copy_photos", full_disk)
    with pytest.raises(CopyFailed, match="No space left"):
        make_copy(now=NOON + dt.timedelta(hours=1))

    assert last_good_copy() == first
    assert [path.name for path in (house / "copies").iterdir()] == ["2026-03-10"]


def test_what_a_cut_off_start_left_is_cleared_and_a_replaced_copy_comes_back(house: Path) -> None:
    first = make_copy(now=NOON)
    first.folder.rename(house / "copies" / ".replaced-2026-03-10")
    (house / "copies" / ".unfinished-2026-03-10").mkdir()

    copies.clear_unfinished(house / "copies")

    assert last_good_copy() == first
    assert [path.name for path in (house / "copies").iterdir()] == ["2026-03-10"]
