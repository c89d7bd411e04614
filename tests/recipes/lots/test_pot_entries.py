"""What is kept at a pot through its page: lines, touches, photos, and putting entries right."""

from __future__ import annotations

import datetime as dt
import io
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from recipes.colourways import keep_secret
from recipes.lots.models import LogEntry, Photo, Pot
from recipes.models import Dye, StockBottle
from tests import factories

pytestmark = pytest.mark.django_db
MOST_QUERIES = 12
SCRIPT = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def studio():
    return factories.studio()


@pytest.fixture
def marit():
    return factories.OwnerFactory()


@pytest.fixture
def owner(marit) -> Client:
    client = Client()
    client.force_login(marit)
    return client


@pytest.fixture
def helper() -> Client:
    client = Client()
    client.force_login(factories.HelperFactory())
    return client


@pytest.fixture
def pot(marit) -> Pot:
    return factories.loaded_pot(who=marit)


@pytest.fixture
def red(marit) -> StockBottle:
    return factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=marit), who=marit)


def send(client: Client, name: str, *args, headers=None, **fields):
    return client.post(reverse(name, args=args), {"key": uuid.uuid4(), **fields}, headers=headers)


def test_a_line_works_without_javascript(owner, pot, red):
    answered = send(owner, "pot-log", pot.code, typed="5 ml red 1%")

    assert answered.status_code == 303
    assert "5 ml Red 1 %" in owner.get(answered["Location"]).content.decode()


def test_the_pages_script_gets_only_the_parts_that_changed(owner, pot, red):
    answered = send(owner, "pot-log", pot.code, typed="5 ml red 1%", headers=SCRIPT)

    assert answered.status_code == 200
    assert answered["X-Kept"] == pot.code
    body = answered.content.decode()
    assert 'id="pot-latest"' in body
    assert "<html" not in body


def test_a_code_may_be_typed_in_small_letters_with_spaces(owner, pot):
    assert owner.get(reverse("pot", args=[pot.code.lower()])).status_code == 200
    assert owner.get(reverse("pot", args=["ZZZZZ"])).status_code == 404


def test_an_empty_line_is_refused_beside_the_line(owner, pot):
    plain = send(owner, "pot-log", pot.code, typed="")
    scripted = send(owner, "pot-log", pot.code, typed=" ", headers=SCRIPT)

    for answered in (plain, scripted):
        assert answered.status_code == 422
        assert "Write what you did" in answered.content.decode()


def test_the_reading_is_what_would_be_kept_and_keeps_nothing(owner, pot, red):
    shown = owner.get(reverse("pot-reading", args=[pot.code]), {"typed": "14:20 +5 ml red, heat off"})

    body = shown.content.decode()
    assert "5 ml Red 1 %" in body
    assert "Heat off" in body
    assert not LogEntry.objects.exists()


def test_the_reading_asks_what_keeping_would_ask(owner, pot):
    shown = owner.get(reverse("pot-reading", args=[pot.code]), {"typed": "12,5 ml teal"})

    assert "Teal is not in the store: which dye is it?" in shown.content.decode()


@pytest.mark.parametrize("typed", ["", " ", "\x00", "<script>alert(1)</script>", "5" * 5000, "“½ ☃"])
def test_the_reading_of_odd_lines_never_fails(owner, pot, typed):
    shown = owner.get(reverse("pot-reading", args=[pot.code]), {"typed": typed})

    assert shown.status_code == 200
    assert "<script>" not in shown.content.decode()


def test_touches_keep_amounts_readings_and_heat(owner, pot, red, marit):
    vinegar = factories.auxiliary(who=marit)

    send(owner, "pot-tap", pot.code, kind="stock", bottle=red.pk, microlitres=5_000)
    send(owner, "pot-tap", pot.code, kind="stock", bottle=red.pk, ml="2,5")
    send(owner, "pot-tap", pot.code, kind="powder", jar=red.jar.pk, before="25.43", after="25.06")
    send(owner, "pot-tap", pot.code, kind="auxiliary", auxiliary=vinegar.pk, ml="20")
    send(owner, "pot-tap", pot.code, kind="water", ml="12 l")
    send(owner, "pot-tap", pot.code, kind="temperature", degrees="82,5")
    send(owner, "pot-tap", pot.code, kind="ph", ph="4.5")
    send(owner, "pot-tap", pot.code, kind="heat", heat="on")
    send(owner, "pot-tap", pot.code, kind="exhausted")

    kept = {
        (e.kind, e.microlitres or e.milligrams or e.centi_celsius or e.ph_hundredths)
        for e in pot.entries.all()
    }
    assert kept == {
        ("stock", 5_000),
        ("stock", 2_500),
        ("powder", 370),
        ("auxiliary", 20_000),
        ("water", 12_000_000),
        ("temperature", 8_250),
        ("ph", 450),
        ("heat", None),
        ("exhausted", None),
    }


def test_degrees_are_fahrenheit_where_the_studio_uses_them(owner, pot):
    factories.studio(units="us")

    send(owner, "pot-tap", pot.code, kind="temperature", degrees="180")

    # 180 °F is 82.22 °C: definition of the degrees.
    assert LogEntry.objects.get().centi_celsius == 8_222


def test_a_jar_weighed_before_waits_for_the_weight_after(owner, pot, red):
    send(owner, "pot-tap", pot.code, kind="powder", jar=red.jar.pk, slug=f"jar-{red.jar.pk}", before="25.43")

    assert LogEntry.objects.get().kind == "note"
    assert 'name="before" type="text" inputmode="decimal" autocomplete="off" value="25.43"' in (
        owner.get(reverse("pot", args=[pot.code])).content.decode()
    )
    send(owner, "pot-tap", pot.code, kind="powder", jar=red.jar.pk, before="25.43", after="25.06")
    assert LogEntry.objects.get(kind="powder").milligrams == 370


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"kind": "powder", "before": "25.06", "after": "25.43"}, "not lighter than before"),
        ({"kind": "powder", "after": "25.43"}, "what the jar weighed before"),
        ({"kind": "powder", "g": "a pinch"}, "not an amount"),
        ({"kind": "temperature", "degrees": "9000"}, "from -40 to 500"),
        ({"kind": "ph", "ph": "15"}, "from 0 to 14"),
        ({"kind": "heat"}, "on or off"),
        ({"kind": "water", "ml": "0"}, "more than nothing"),
        ({"kind": "strike"}, "not one of the choices"),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence_and_nothing_is_kept(owner, pot, red, fields, sentence):
    slug = f"jar-{red.jar.pk}" if fields["kind"] == "powder" else fields["kind"]

    answered = send(owner, "pot-tap", pot.code, jar=red.jar.pk, slug=slug, headers=SCRIPT, **fields)

    assert answered.status_code == 422
    assert sentence in answered.content.decode()
    assert not LogEntry.objects.exists()


def test_without_javascript_a_refused_weighing_shows_what_was_typed_and_why(owner, pot, red):
    slug = f"jar-{red.jar.pk}"

    answered = send(
        owner, "pot-tap", pot.code, kind="powder", jar=red.jar.pk, slug=slug, before="25", after="26"
    )

    body = answered.content.decode()
    assert answered.status_code == 422
    assert "not lighter than before" in body
    assert 'value="26"' in body


def test_a_photo_is_kept_and_one_that_is_none_is_refused(owner, pot):
    kept = owner.post(
        reverse("pot-photo", args=[pot.code]), {"key": uuid.uuid4(), "photo": factories.photo_file()}
    )
    refused = owner.post(
        reverse("pot-photo", args=[pot.code]),
        {"key": uuid.uuid4(), "photo": io.BytesIO(b"GIF89a not really")},
        headers=SCRIPT,
    )

    assert kept.status_code == 303
    assert Photo.objects.get().pot == pot
    assert LogEntry.objects.get().kind == "photo"
    assert refused.status_code == 422


def test_a_photo_sent_twice_is_kept_once(owner, pot):
    key = uuid.uuid4()
    for _ in range(2):
        owner.post(reverse("pot-photo", args=[pot.code]), {"key": key, "photo": factories.photo_file()})

    assert Photo.objects.count() == 1


def test_a_secret_colourway_shows_a_helper_its_code_and_no_photo(owner, helper, marit):
    colourway = factories.colourway("Harbour wall")
    keep_secret(colourway=colourway, until=timezone.now() + dt.timedelta(days=30))
    pot = factories.loaded_pot(colourway=colourway, who=marit)
    photo = factories.pot_photo(pot=pot, who=marit)

    for where in (reverse("pot", args=[pot.code]), reverse("pots"), reverse("pot-new")):
        assert "Harbour wall" not in helper.get(where).content.decode()
        assert "#3f5d4a" not in helper.get(where).content.decode()
    assert "Harbour wall" in owner.get(reverse("pot", args=[pot.code])).content.decode()
    for name in ("photo", "photo-small"):
        assert helper.get(reverse(name, args=[photo.key])).status_code == 403
        assert owner.get(reverse(name, args=[photo.key])).status_code == 200


def test_a_photo_is_a_jpeg_that_others_may_not_keep(helper, marit):
    photo = factories.pot_photo(who=marit)

    served = helper.get(reverse("photo-small", args=[photo.key]))

    assert served["Content-Type"] == "image/jpeg"
    assert "private" in served["Cache-Control"]


def test_a_helpers_entry_is_theirs(helper, pot, red):
    send(helper, "pot-log", pot.code, typed="5 ml red")

    assert LogEntry.objects.get().who.called == "Jonas"
    assert "Jonas" in helper.get(reverse("pot", args=[pot.code])).content.decode()


def test_an_entry_is_struck_put_back_and_corrected(owner, pot, red, marit):
    entry = factories.log_entry("5 ml red", pot=pot, who=marit)

    send(owner, "pot-entry-strike", pot.code, entry.key)
    page = owner.get(reverse("pot", args=[pot.code])).content.decode()
    assert "struck by Marit" in page
    assert "Put it back" in page
    send(owner, "pot-entry-back", pot.code, entry.key)
    back = LogEntry.objects.get(corrects=entry)
    send(owner, "pot-entry-correct", pot.code, back.key, typed="15 ml red")

    assert LogEntry.objects.get(corrects=back).microlitres == 15_000
    again = send(owner, "pot-entry-correct", pot.code, back.key, typed="20 ml red", headers=SCRIPT)
    assert again.status_code == 422
    assert "struck or corrected already" in again.content.decode()


def test_an_entry_of_another_pot_is_not_found_under_this_one(owner, pot, marit):
    elsewhere = factories.log_entry(who=marit)

    assert send(owner, "pot-entry-strike", pot.code, elsewhere.key).status_code == 404


def test_a_name_that_is_not_in_the_store_is_added_to_it_at_a_touch(owner, pot, marit):
    entry = factories.log_entry("12,5 ml teal 1%", pot=pot, who=marit)

    send(owner, "pot-entry-answer", pot.code, entry.key, add="dye")

    linked = LogEntry.objects.get(corrects=entry)
    assert Dye.objects.get().name == "Teal"
    assert (linked.dye.name, linked.microlitres, linked.question) == ("Teal", 12_500, "")


def test_a_name_is_linked_to_a_dye_that_the_store_has(owner, pot, red, marit):
    entry = factories.log_entry("12,5 ml scarlet 1%", pot=pot, who=marit)

    send(owner, "pot-entry-answer", pot.code, entry.key, thing=f"dye-{red.dye.pk}")

    assert LogEntry.objects.get(corrects=entry).bottle == red


def test_which_bottle_is_answered_at_a_touch(owner, pot, red, marit):
    weak = factories.bottle(jar=red.jar, strength_mg_per_litre=1_000, who=marit)
    entry = factories.log_entry("5 ml red", pot=pot, who=marit)
    assert "0.1 %" in owner.get(reverse("pot", args=[pot.code])).content.decode()

    send(owner, "pot-entry-answer", pot.code, entry.key, bottle=weak.pk)

    assert LogEntry.objects.get(corrects=entry).strength_mg_per_litre == 1_000


def test_no_15_not_5_offers_to_put_the_last_addition_right(owner, pot, red, marit):
    wrong = factories.log_entry("5 ml red", pot=pot, who=marit)
    note = factories.log_entry("no, 15 not 5", pot=pot, who=marit)
    page = owner.get(reverse("pot", args=[pot.code])).content.decode()
    assert "Red: 15 ml instead of 5 ml" in page

    send(owner, "pot-entry-answer", pot.code, note.key, instead=f"{wrong.key} 15")

    right = LogEntry.objects.get(corrects=wrong)
    assert (right.microlitres, right.happened_at) == (15_000, wrong.happened_at)


def test_an_answer_that_says_nothing_is_refused(owner, pot, marit):
    entry = factories.log_entry("12,5 ml teal", pot=pot, who=marit)

    answered = send(owner, "pot-entry-answer", pot.code, entry.key, headers=SCRIPT)

    assert answered.status_code == 422
