"""The service worker as a browser asks for it: from the root, by anybody, knowing files that are there."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from django.contrib.staticfiles.finders import find
from django.test import Client
from django.urls import resolve, reverse

from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def known(client: Client) -> dict:
    """What the worker was told of the house."""
    words = client.get(reverse("service-worker")).content.decode()
    return json.loads(re.search(r"const HOUSE = ({.*});", words)[1])


def test_it_is_served_from_the_root_as_a_script_that_is_looked_at_afresh(client: Client):
    served = client.get("/service-worker.js")

    assert served.status_code == 200
    assert served["Content-Type"] == "text/javascript; charset=utf-8"
    assert served["Cache-Control"] == "no-cache"
    assert "worker-src 'self'" in served["Content-Security-Policy"]


def test_it_holds_nothing_of_whoever_asks(client: Client):
    plain = client.get("/service-worker.js").content
    client.force_login(factories.OwnerFactory())

    assert client.get("/service-worker.js").content == plain


def test_every_file_it_fetches_is_there(known: dict):
    missing = [file for file in known["files"] if not find(file.removeprefix("/static/"))]

    assert known["files"]
    assert missing == []


def test_it_fetches_all_that_the_page_of_a_pot_loads(client: Client, known: dict):
    factories.studio()
    marit = factories.OwnerFactory()
    client.force_login(marit)
    page = client.get(reverse("pot", args=[factories.loaded_pot(who=marit).code])).content.decode()

    loaded = set(re.findall(r'(?:src|href)="(/static/[^"]+)"', page))

    assert len(loaded) > 10
    assert loaded <= set(known["files"])


def test_it_fetches_what_scripts_and_styles_bring_along(known: dict):
    for file in known["files"]:
        if not file.endswith((".js", ".css")):
            continue
        text = Path(find(file.removeprefix("/static/"))).read_text(encoding="utf-8")
        brought = [f"/static/{font}" for font in re.findall(r'url\("\.\./\.\./(fonts/[\w-]+\.ttf)"\)', text)]
        brought += [f"/static/dyehouse/js/{name}" for name in re.findall(r'from "\./([\w-]+\.js)"', text)]
        assert set(brought) <= set(known["files"]), file


def test_the_addresses_it_goes_by_are_the_houses_own(known: dict):
    for address in (*known["kept_pages"], *known["ends"], known["offline"], known["sign_in"], known["pots"]):
        assert resolve(address)


def test_a_page_says_whose_it_is_and_when_it_was_made(client: Client):
    factories.studio()
    marit = factories.OwnerFactory()
    client.force_login(marit)

    page = client.get(reverse("pots")).content.decode()

    assert re.search(rf'<body data-who="{marit.username}" data-made-at="\d{{4}}-\d\d-\d\dT[^"]+">', page)


def test_the_page_for_want_of_a_connection_is_nobodys(client: Client):
    assert client.get(reverse("offline")).status_code == 200
