"""One house for all walks over the network: it takes its time to open."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Playwright, expect

from dyehouse.running.testing import strict
from tests.browser.phone_in_hand import DyeRoom, Phone, phone_in_hand

# The walks go beside everything else: what is to be seen may take its time, and is waited for no longer than needed.
expect.set_options(timeout=20_000)


@pytest.fixture(scope="session")
def one_room(tmp_path_factory: pytest.TempPathFactory) -> Iterator[DyeRoom]:
    room = DyeRoom(tmp_path_factory.mktemp("house"))
    try:
        yield room
    finally:
        room.close()


@pytest.fixture
def room(one_room: DyeRoom) -> DyeRoom:
    """An open house with two loaded pots."""
    one_room.open()
    return one_room


@pytest.fixture
def phone(playwright: Playwright, chromium_path: str, tmp_path: Path) -> Iterator[Phone]:
    with phone_in_hand(playwright, chromium_path, tmp_path) as phone:
        yield phone


@pytest.fixture
def trusting(phone: Phone, room: DyeRoom) -> Phone:
    """A phone that was told to trust the house."""
    if shutil.which("certutil") is None:
        if strict():
            pytest.fail("certutil is missing: apt install libnss3-tools")
        pytest.skip(
            "certutil is missing, with which a browser is told to trust the house: apt install libnss3-tools"
        )
    phone.trust(room.data / "https" / "house.pem")
    return phone
