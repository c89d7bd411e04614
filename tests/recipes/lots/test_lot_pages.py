"""The pages from the pot to dry: out, the lot, judging."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from recipes.colourways import keep_secret
from recipes.lots import finishing
from recipes.lots.models import DyeLot, Photo
from tests import factories

pytestmark = pytest.mark.django_db
MOST_QUERIES = 12


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


def judged(lot: DyeLot, **counts) -> dict[str, object]:
    put_up = lot.pots.get().loads.get().put_up_id
    return {"key": uuid.uuid4(), **{f"{outcome}_{put_up}": n for outcome, n in counts.items()}}


def test_a_pot_is_emptied_from_its_page_and_opens_its_lot(owner, marit):
    pot = factories.loaded_pot(who=marit)
    load = pot.loads.get()

    answer = owner.post(
        reverse("pot-out", args=[pot.code]), {"key": uuid.uuid4(), "bath": "tinted", f"out_{load.pk}": 5}
    )

    assert answer.status_code == 303
    assert answer["Location"] == reverse("lot", args=[pot.code])
    page = owner.get(answer["Location"]).content.decode()
    assert "Judge it" in page
    assert "not yet judged" in page


def test_an_emptied_pot_sends_on_to_its_lot(owner, marit):
    lot = factories.lot_out(who=marit)

    assert owner.get(reverse("pot-out", args=[lot.code]))["Location"] == reverse("lot", args=[lot.code])


def test_without_a_word_on_the_bath_nothing_comes_out(owner, marit):
    pot = factories.loaded_pot(who=marit)

    answer = owner.post(reverse("pot-out", args=[pot.code]), {f"out_{pot.loads.get().pk}": 4})

    assert answer.status_code == 422
    page = answer.content.decode()
    assert "clear, tinted or coloured" in page
    assert 'value="4"' in page
    assert not DyeLot.objects.exists()


def test_judging_keeps_the_counts_the_words_the_photo_and_the_one_to_repeat(owner, marit):
    lot = factories.lot_out(who=marit)

    answer = owner.post(
        reverse("lot-judge", args=[lot.code]),
        {
            **judged(lot, good=4, second=1),
            "words": "Better than planned.",
            "repeat": "on",
            "photo": factories.photo_file(),
        },
    )

    assert answer.status_code == 303
    judgement = lot.judgements.get()
    assert (judgement.words, judgement.verdict, judgement.by) == ("Better than planned.", "first", marit)
    assert Photo.objects.get(dye_lot=lot).kind == Photo.Kind.DAYLIGHT
    base = lot.pots.get().loads.get().put_up.base
    assert finishing.reference_for(colourway=lot.colourway, base=base).dye_lot == lot


def test_too_many_judged_stands_beside_the_count_and_keeps_what_was_typed(owner, marit):
    lot = factories.lot_out(who=marit)

    answer = owner.post(
        reverse("lot-judge", args=[lot.code]), {**judged(lot, good=5, second=2), "words": "Fine."}
    )

    assert answer.status_code == 422
    page = answer.content.decode()
    assert "These come to 7, and 5 wait." in page
    assert "Fine." in page
    assert not lot.judgements.exists()


def test_a_picture_that_is_none_is_refused_and_nothing_is_judged(owner, marit):
    lot = factories.lot_out(who=marit)
    spoilt = factories.photo_file()
    spoilt.write(b"\x00" * 40)
    spoilt.truncate(30)
    spoilt.seek(0)

    answer = owner.post(reverse("lot-judge", args=[lot.code]), {**judged(lot, good=5), "photo": spoilt})

    assert answer.status_code == 422
    assert not lot.judgements.exists()
    assert not Photo.objects.exists()


def test_with_a_lot_to_repeat_the_verdict_is_asked_beside_it(owner, marit):
    put_up = factories.put_up(pieces=20, who=marit)
    first = factories.lot_out(who=marit, put_up=put_up)
    finishing.choose_reference(dye_lot=first, base=put_up.base, who=marit)
    second = factories.lot_out(who=marit, put_up=put_up, colourway=first.colourway)

    page = owner.get(reverse("lot-judge", args=[second.code])).content.decode()
    owner.post(reverse("lot-judge", args=[second.code]), {**judged(second, good=5), "verdict": "close"})

    assert "close: alternate skeins" in page
    assert first.code in page
    assert (second.judgements.get().verdict, second.judgements.get().against) == ("close", first)


def test_a_judgement_is_taken_back_with_a_reason_only(owner, marit):
    lot = factories.judged_lot(who=marit)
    address = reverse("judgement-back", args=[lot.code, lot.judgements.get().pk])

    refused = owner.post(address, {"why": ""})
    kept = owner.post(address, {"why": "counted wrong"})

    assert refused.status_code == 422
    assert kept.status_code == 303
    assert "taken back" in owner.get(kept["Location"]).content.decode()


def test_a_helper_sees_a_secret_lot_by_its_code_and_without_its_photo(owner, helper, marit):
    lot = factories.judged_lot(who=marit, colourway=factories.colourway("Tin Roof"))
    owner.post(reverse("lot-photo", args=[lot.code]), {"photo": factories.photo_file()})
    keep_secret(colourway=lot.colourway, until=timezone.now() + dt.timedelta(days=3))

    for address in (reverse("lot", args=[lot.code]), reverse("lot-judge", args=[lot.code])):
        seen = helper.get(address).content.decode()
        assert "Tin Roof" not in seen
        assert "/photos/" not in seen
    assert "Tin Roof" in owner.get(reverse("lot", args=[lot.code])).content.decode()


def test_the_pages_of_a_lot_take_no_more_queries_with_more_of_everything(
    owner, marit, django_assert_max_num_queries
):
    lot = factories.lot_out(who=marit, pieces=60)
    for _ in range(20):
        put_up = lot.pots.get().loads.get().put_up_id
        finishing.judge(key=uuid.uuid4(), dye_lot=lot, counts={(put_up, "good"): 2}, who=marit)

    for name in ("lot", "lot-judge"):
        address = reverse(name, args=[lot.code])
        owner.get(address)
        with django_assert_max_num_queries(MOST_QUERIES):
            assert owner.get(address).status_code == 200
