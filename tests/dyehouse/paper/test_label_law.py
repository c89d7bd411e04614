"""What each market wants on a label beside the fibres, and what is said of what is missing."""

from __future__ import annotations

import pytest
from django.urls import reverse

from dyehouse.paper.composition import Market
from dyehouse.paper.label_law import about_maker, maker_line, must_stand
from dyehouse.paper.models import LabelledFibre
from dyehouse.paper.sheets import sheet_named
from dyehouse.paper.yarn_label import lay_out
from dyehouse.studio.maker import MakerFacts, keep_makers_words, on_one_line
from dyehouse.studio.models import Studio
from tests import factories
from tests.dyehouse.paper.making import label

ADDRESS = "4 Quay Street\nBallydun\nIreland"


def studio(**facts) -> Studio:
    return Studio(**{"name": "Weir Lane", "country": "IE", **facts})


def test_an_eu_label_names_postal_and_electronic_address():
    # Regulation (EU) 2023/988 Art. 9, 16 and 19, from memory
    line = maker_line(studio(postal_address=ADDRESS, email="post@weir.example"), Market.EU)

    assert line.line == "4 Quay Street, Ballydun, Ireland, post@weir.example"
    assert line.missing == ()


@pytest.mark.parametrize("market", [Market.EU, Market.UK])
def test_what_is_not_written_down_of_the_maker_is_said(market):
    missing = maker_line(studio(), market).missing

    assert any("postal address" in sentence for sentence in missing)
    assert any("e-mail address" in sentence for sentence in missing)


def test_a_maker_outside_the_eu_names_somebody_inside():
    # Regulation (EU) 2023/988 Art. 16, from memory
    here = studio(country="GB", postal_address=ADDRESS, email="post@weir.example")
    answered = studio(
        country="GB",
        postal_address=ADDRESS,
        email="post@weir.example",
        responsible_in_eu="Una Ek\nKalmar, Sweden",
    )

    assert "answers for the yarn" in maker_line(here, Market.EU).missing[0]
    assert maker_line(answered, Market.EU).line.endswith("In the EU: Una Ek, Kalmar, Sweden")
    assert maker_line(here, Market.UK).missing == ()


def test_a_us_label_carries_a_registered_number_in_place_of_the_company():
    # 16 CFR 303.19, 303.20, detail from memory
    here = studio(country="US", identification_number="RN 12345", postal_address=ADDRESS)

    assert maker_line(here, Market.US).line == "RN 12345"
    assert must_stand(here, Market.US) == ("origin", "maker")
    assert must_stand(studio(country="US"), Market.US) == ("origin", "studio")
    assert maker_line(studio(country="US", name=""), Market.US).missing


@pytest.mark.parametrize("market", [Market.US, Market.EU, Market.UK])
def test_every_rule_names_its_source(market):
    assert "Source:" in about_maker(market)


def test_what_the_law_wants_is_the_last_to_go_from_a_small_label():
    small = sheet_named("a4-4x12")
    plain, wanted = label(), label(must=("maker", "origin"))

    assert "the maker’s line" in lay_out(plain, small).left_out
    laid = lay_out(wanted, small)
    assert "the maker’s line" not in laid.left_out
    assert laid.wanting == ()


def test_what_the_law_wants_and_has_no_room_is_named_as_such():
    laid = lay_out(label(must=("maker",), maker="A very long address, " * 12), sheet_named("a4-5x13"))

    assert laid.wanting == ("the maker’s line",)


def test_origin_stands_on_the_front_side_of_a_band():
    # 16 CFR 300.5(b): origin on the front side, which is the left one
    sheet = sheet_named("a4-1x6-cut")

    line = next(
        line
        for line in lay_out(label(shape="band"), sheet).page.lines
        if line.text.startswith("Yarn made in Peru")
    )

    assert line.left + line.width <= sheet.label_width_um // 2


@pytest.mark.parametrize("shape", ["tag", "band", "mini"])
def test_the_fibres_stand_in_one_size_and_one_face(shape):
    # Regulation (EU) No 1007/2011 Art. 16(1); 16 CFR 303.17(a)
    fibres = "55 % wool, 20 % nylon, 15 % silk, 6 % mohair, 4 % other fibres"
    page = lay_out(label(shape=shape, fibres=fibres), sheet_named("letter-2x5")).page

    lines = [line for line in page.lines if line.text and line.text in fibres]
    assert " ".join(line.text for line in lines) == fibres
    assert len({(line.kind, line.tenths) for line in lines}) == 1


def test_care_words_may_be_left_out():
    # 16 CFR 423.1(b), 423.3: no care text is asked of yarn in skeins
    assert lay_out(label(care=""), sheet_named("a4-3x8")).left_out == ()


def test_an_address_stands_on_one_line():
    assert on_one_line("4 Quay Street,\n\n Ballydun ") == "4 Quay Street, Ballydun"


# --- Pages ------------------------------------------------------------------------------------------------------------


@pytest.fixture
def owner(client):
    factories.studio(name="Weir Lane", country="IE")
    client.force_login(factories.OwnerFactory())
    return client


@pytest.mark.django_db
def test_the_owner_writes_down_how_labels_name_the_maker(owner):
    answer = owner.post(
        reverse("makers-words"),
        {"postal_address": ADDRESS, "email": "post@weir.example", "identification_number": " RN  12345 "},
    )

    assert answer.status_code == 303
    here = Studio.current()
    assert (here.postal_address, here.email, here.identification_number) == (
        ADDRESS,
        "post@weir.example",
        "RN 12345",
    )


@pytest.mark.django_db
def test_a_wrong_e_mail_address_is_said_and_what_was_typed_is_kept(owner):
    answer = owner.post(reverse("makers-words"), {"postal_address": ADDRESS, "email": "post at weir"})

    assert answer.status_code == 422
    assert "Write an e-mail address like" in answer.content.decode()
    assert "4 Quay Street" in answer.content.decode()
    assert Studio.current().postal_address == ""


@pytest.mark.django_db
def test_a_base_shows_the_line_of_each_market_with_its_source(owner):
    base = factories.base("Harbour Sparkle", fibres={"wool": 750, "nylon": 200, "metallic": 50})

    page = owner.get(reverse("label-fibres", args=[base.pk])).content.decode()

    assert "75 % wool, 20 % nylon, 5 % metallic fibre" in page
    assert "75% Wool, 20% Nylon, 5% Metallic" in page
    assert "wool 72 to 78 %" in page
    assert "15 USC 68b" in page
    assert page.index("European Union") < page.index("United States")


@pytest.mark.django_db
def test_a_decoration_is_left_out_where_the_owner_says_so(owner):
    base = factories.base("Harbour Sparkle", fibres={"wool": 950, "metallic": 50})

    owner.post(reverse("label-fibres", args=[base.pk]), {"wool": "named", "metallic": "ornament"})

    assert LabelledFibre.objects.get().how == "ornament"
    page = owner.get(reverse("label-fibres", args=[base.pk])).content.decode()
    assert "100% Wool - Exclusive of Ornamentation" in page


@pytest.mark.django_db
def test_what_no_law_lets_is_refused(owner):
    base = factories.base("Harbour", fibres={"wool": 500, "nylon": 500})

    answer = owner.post(reverse("label-fibres", args=[base.pk]), {"wool": "named", "nylon": "ornament"})

    assert answer.status_code == 422
    assert "is too much to leave out as decoration" in answer.content.decode()
    assert not LabelledFibre.objects.exists()


@pytest.mark.django_db
def test_keeping_the_same_words_twice_keeps_them_once():
    factories.studio()

    for _ in range(2):
        keep_makers_words(facts=MakerFacts(postal_address=" 4 Quay Street \n\n Ballydun "))

    assert Studio.current().postal_address == "4 Quay Street\nBallydun"
