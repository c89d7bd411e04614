"""Designs that the studio chose, and labels printed in them for a market."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.urls import reverse
from django.utils import timezone

from dyehouse.paper.designs import designs_here
from dyehouse.paper.models import LabelDesign, PrintRun
from recipes.colourways import keep_secret
from recipes.lots.models import Photo
from tests import factories
from tests.dyehouse.paper.reading import text_of

pytestmark = pytest.mark.django_db

ASKED = {
    "name": "Sock tag",
    "shape": "tag",
    "stands": ["studio", "fibres", "metres"],
    "code_kind": "qr",
    "sheet": "a4-2x4",
}


@pytest.fixture
def marit():
    factories.studio(
        name="Weir Lane", country="IE", postal_address="2 Weir Lane\nBallydun", email="post@weir.example"
    )
    return factories.OwnerFactory()


@pytest.fixture
def owner(client, marit):
    client.force_login(marit)
    return client


@pytest.fixture
def lot(marit):
    base = factories.base("Ferry DK", fibres={"wool": 950, "acrylic": 50}, metres_per_100g=225, spun_in="PE")
    put_up = factories.put_up(base=base, pieces=30, who=marit)
    return factories.judged_lot(who=marit, good=4, put_up=put_up, colourway=factories.colourway("Tin Roof"))


def printed(client, lot, **changes) -> str:
    put_up = lot.pots.get().loads.get().put_up_id
    asked = {
        "key": uuid.uuid4(), "design": "tag", "market": "eu", "sheet": "a4-2x4", "start_at": 1,
        f"count_{lot.code}-{put_up}": 1, **changes,
    }  # fmt: skip
    return text_of(client.post(f"{reverse('labels')}?lot={lot.code}", asked).content)


def test_a_design_says_what_stands_on_a_label(owner, lot):
    owner.post(reverse("label-design-new"), ASKED)
    row = LabelDesign.objects.get()

    text = printed(owner, lot, design=f"own-{row.pk}")

    assert "Weir Lane" in text
    assert "400 m" in text
    assert "100 g" not in text
    assert "Hand wash" not in text


def test_what_the_design_leaves_out_and_the_law_wants_is_said_before_printing(owner, lot):
    owner.post(reverse("label-design-new"), ASKED | {"stands": ["metres"]})
    row = LabelDesign.objects.get()

    page = owner.get(reverse("labels"), {"lot": lot.code, "design": f"own-{row.pk}"}).content.decode()

    assert "This design leaves out the studio’s name, the fibres and the maker’s line" in page


def test_each_market_gets_its_own_words(owner, lot):
    assert "95 % wool, 5 % acrylic" in printed(owner, lot, market="eu")
    uk, us = printed(owner, lot, market="uk"), printed(owner, lot, market="us")
    assert "Wool 95%, acrylic 5%" in uk
    assert "2 Weir Lane, Ballydun, post@weir.example" in uk
    assert "95% Wool, 5% Acrylic" in us
    assert "Yarn made in Peru, dyed in Ireland" in us


def test_the_page_states_the_rule_of_the_market_with_its_source(owner, lot):
    eu = owner.get(reverse("labels"), {"lot": lot.code}).content.decode()
    us = owner.get(reverse("labels"), {"lot": lot.code, "market": "us"}).content.decode()

    assert "Regulation (EU) No 1007/2011" in eu
    assert "Wool Act (16 CFR Part 300)" in us
    assert "local law comes first" in us


def test_choosing_a_band_offers_its_sheet_and_keeps_what_was_counted(owner, lot):
    put_up = lot.pots.get().loads.get().put_up_id
    count = f"count_{lot.code}-{put_up}"

    page = owner.get(
        reverse("labels"),
        {"lot": lot.code, "design": "band", "sheet": "a4-3x8", "start_at": "7", count: "2"},
        headers={"HX-Request": "true", "HX-Trigger-Name": "design"},
    )

    form = page.context["form"]
    assert form["sheet"].value() == "a4-1x6-cut"
    assert form["start_at"].value() == 1
    assert form[count].value() == "2"


def test_choosing_a_market_keeps_sheet_and_first_label(owner, lot):
    page = owner.get(
        reverse("labels"),
        {"lot": lot.code, "design": "tag", "market": "us", "sheet": "a4-3x7", "start_at": "7"},
        headers={"HX-Request": "true", "HX-Trigger-Name": "market"},
    )

    form = page.context["form"]
    assert (form["sheet"].value(), form["start_at"].value()) == ("a4-3x7", "7")


def test_a_picture_of_the_lot_prints_again_and_a_secret_has_none(owner, marit, lot, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    name = default_storage.save("small.jpg", ContentFile(factories.photo_file().getvalue()))
    Photo.objects.create(
        key=uuid.uuid4(), kind=Photo.Kind.DAYLIGHT, dye_lot=lot, file=name, thumbnail=name, width=64, height=48,
        taken_at=timezone.now(), taken_by=marit,
    )  # fmt: skip
    row = factories.label_design("With picture", with_picture=True)

    printed(owner, lot, design=f"own-{row.pk}")
    run = PrintRun.objects.get()
    keep_secret(colourway=lot.colourway, until=timezone.now() + dt.timedelta(days=3))
    printed(owner, lot, design=f"own-{row.pk}")

    assert run.payload["labels"][0]["photo"] == name
    assert b"/Subtype /Image" in _uncompressed(owner.get(reverse("labels-again", args=[run.pk])).content)
    assert PrintRun.objects.latest("id").payload["labels"][0]["photo"] == ""
    page = owner.get(reverse("labels"), {"lot": lot.code, "design": f"own-{row.pk}"}).content.decode()
    assert "would give the secret away" in page


def _uncompressed(content: bytes) -> bytes:
    import io

    import pikepdf

    with pikepdf.open(io.BytesIO(content)) as document:
        return b" ".join(
            b"/Subtype /Image" for each in document.objects
            if isinstance(each, pikepdf.Stream) and each.get("/ColorSpace") == "/DeviceRGB"
        )  # fmt: skip


def test_a_design_is_changed_and_taken_out_of_the_list(owner):
    row = factories.label_design()

    owner.post(reverse("label-design", args=[row.pk]), ASKED | {"name": "Other tag", "shape": "mini"})
    row.refresh_from_db()
    owner.post(reverse("label-design-drop", args=[row.pk]))

    assert (row.name, row.shape) == ("Other tag", "mini")
    assert f"own-{row.pk}" not in designs_here()


def test_two_designs_do_not_share_a_name(owner):
    factories.label_design("Sock tag")

    answer = owner.post(reverse("label-design-new"), ASKED)

    assert answer.status_code == 422
    assert "There is a design called Sock tag already." in answer.content.decode()


@pytest.mark.parametrize("slug", ["tag", "band", "mini"])
def test_a_sample_shows_a_design_before_it_is_used(owner, slug):
    assert "Slate after Rain" in text_of(owner.get(reverse("label-sample", args=[slug])).content)
