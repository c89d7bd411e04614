"""What a phone kept while it had no network arrives hours later, as the phone sends it: with its own key and clock."""

from __future__ import annotations

import datetime as dt
import re
import uuid

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from recipes.lots.contents import what_is_in
from recipes.lots.models import LogEntry, Photo, Pot
from tests import factories

pytestmark = pytest.mark.django_db

BY_SCRIPT = {"HX-Request": "true"}
MORNING = dt.datetime(2026, 3, 14, 8, 15, tzinfo=dt.UTC)
# Only what is said about a pot's log may wait: nothing that takes yarn in or out, weighs, judges or prints.
OF_THE_LOG = {
    "pot-log",
    "pot-tap",
    "pot-again",
    "pot-step",
    "pot-photo",
    "pot-entry-strike",
    "pot-entry-correct",
    "pot-entry-back",
    "pot-entry-answer",
}


@pytest.fixture
def pot(client: Client) -> Pot:
    factories.studio()
    marit = factories.OwnerFactory(username="marit")
    factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=marit), who=marit)
    client.force_login(marit)
    return factories.loaded_pot(who=marit, happened_at=MORNING - dt.timedelta(hours=1))


def send(
    client: Client, pot: Pot, name: str, minutes: int, key: uuid.UUID | None = None, **fields: object
) -> uuid.UUID:
    """Send one entry as a phone does that wrote it so many minutes after a quarter past eight."""
    key = key or uuid.uuid4()
    clock = (MORNING + dt.timedelta(minutes=minutes)).isoformat().replace("+00:00", "Z")
    parts = [pot.code, *([fields.pop("entry")] if "entry" in fields else [])]
    answered = client.post(
        reverse(name, args=parts), {"key": str(key), "clock": clock, **fields}, headers=BY_SCRIPT
    )
    assert answered.status_code == 200
    assert answered["X-Kept"] == pot.code
    return key


def at(minutes: int) -> dt.datetime:
    return MORNING + dt.timedelta(minutes=minutes)


def test_every_kind_of_entry_keeps_the_clock_of_the_phone(client: Client, pot: Pot):
    photo = factories.photo_file(size=(64, 64))
    send(client, pot, "pot-tap", 0, kind="heat", heat="on")
    send(client, pot, "pot-log", 5, typed="5 ml red, 82 C")
    send(client, pot, "pot-photo", 9, photo=photo)
    send(client, pot, "pot-log", 20, typed="08:17 3 ml red")

    entries = LogEntry.objects.filter(pot=pot).order_by("happened_at", "id")

    assert [(entry.kind, entry.happened_at) for entry in entries] == [
        ("heat", at(0)),
        ("stock", at(2)),
        ("stock", at(5)),
        ("temperature", at(5)),
        ("photo", at(9)),
    ]
    assert Photo.objects.get().taken_at == at(9)
    assert all(entry.recorded_at > entry.happened_at + dt.timedelta(hours=1) for entry in entries)


def test_a_strike_and_a_correction_are_of_when_they_were_made(client: Client, pot: Pot):
    wrong = send(client, pot, "pot-log", 0, typed="50 ml red")
    twice = send(client, pot, "pot-log", 1, typed="7 ml red")
    send(client, pot, "pot-entry-correct", 3, entry=wrong, typed="5 ml red")
    send(client, pot, "pot-entry-strike", 4, entry=twice)

    strikes = LogEntry.objects.filter(kind="strike").order_by("happened_at")

    assert [strike.happened_at for strike in strikes] == [at(3), at(4)]
    assert [dye.stock_microlitres for dye in what_is_in(pot).dyes] == [5_000]


def test_what_arrives_a_second_time_changes_nothing(client: Client, pot: Pot):
    keys = [uuid.uuid4() for _ in range(5)]
    for _ in range(2):
        send(client, pot, "pot-log", 0, keys[0], typed="5 ml red")
        send(client, pot, "pot-tap", 1, keys[1], kind="ph", ph="4.5")
        send(client, pot, "pot-photo", 2, keys[2], photo=factories.photo_file(size=(64, 64)))
        send(client, pot, "pot-entry-strike", 3, keys[3], entry=keys[0])
        send(client, pot, "pot-entry-back", 4, keys[4], entry=keys[0])

    kinds = list(LogEntry.objects.filter(pot=pot).order_by("id").values_list("kind", flat=True))

    assert kinds == ["stock", "ph", "photo", "strike", "stock"]
    assert [dye.stock_microlitres for dye in what_is_in(pot).dyes] == [5_000]


def test_a_pot_that_came_out_meanwhile_still_takes_what_was_done_before(client: Client, pot: Pot):
    lot = factories.lot_out()
    came_out = lot.pots.get()

    send(client, came_out, "pot-log", 0, typed="heat off")

    assert LogEntry.objects.filter(pot=came_out, kind="heat").get().happened_at == at(0)


def test_only_what_is_of_a_log_waits_on_a_phone():
    forms = [
        (file.name, form)
        for file in (settings.SOURCE / "templates").rglob("*.html")
        for form in re.findall(r"<form\b.*?data-keep\b.*?>", file.read_text(encoding="utf-8"))
    ]
    led = {(name, re.search(r'action="{% url "([\w-]+)"', form)[1]) for name, form in forms}

    assert len(forms) > 10
    assert {name for _, name in led} <= OF_THE_LOG
