"""One entry for several pots: each keeps its own, all or none, once, and it can be struck in all of them."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from dyehouse.ledger.models import Balance
from recipes.lots.contents import what_is_in
from recipes.lots.log import NotAnEntry, NotLoaded, keep_line, put_back
from recipes.lots.models import LogEntry, Pot
from recipes.lots.together import add_entry_in, keep_again, keep_line_in, pots_called, strike_in_all
from recipes.models import StockBottle
from tests import factories

pytestmark = pytest.mark.django_db
SCRIPT = {"HX-Request": "true"}


@pytest.fixture
def marit():
    factories.studio()
    return factories.OwnerFactory()


@pytest.fixture
def red(marit) -> StockBottle:
    return factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=marit), who=marit)


@pytest.fixture
def pots(marit, red) -> list[Pot]:
    return [factories.loaded_pot(who=marit) for _ in range(4)]


@pytest.fixture
def owner(marit) -> Client:
    client = Client()
    client.force_login(marit)
    return client


def entries(pot: Pot) -> list[LogEntry]:
    return list(LogEntry.objects.filter(pot=pot).order_by("id"))


def left(bottle: StockBottle) -> int:
    return Balance.objects.get(lot=bottle.lot, place__code="store").on_hand


def post(client: Client, name: str, pot: Pot, **fields):
    return client.post(reverse(name, args=[pot.code]), {"key": uuid.uuid4(), **fields}, headers=SCRIPT)


def test_a_line_goes_into_each_pot_under_a_key_of_its_own(pots, red, marit):
    first, *others = pots[:3]
    key = uuid.uuid4()

    keep_line_in(pot=first, also=others, key=key, typed="5 ml red, heat on", who=marit)

    for pot in (first, *others):
        stock, heat = entries(pot)
        assert (stock.kind, stock.microlitres, stock.bottle, stock.together) == ("stock", 5_000, red, key)
        assert stock.key == uuid.uuid5(key, pot.code)
        assert (heat.kind, heat.heat_on) == ("heat", True)
        assert heat.together not in (None, key)
    assert entries(pots[3]) == []
    assert left(red) == 485_000


def test_the_same_post_again_keeps_nothing_more(owner, pots, red):
    fields = {"key": uuid.uuid4(), "typed": "5 ml red", "into": [pots[1].code, pots[2].code]}
    where = reverse("pot-log", args=[pots[0].code])

    assert owner.post(where, fields, headers=SCRIPT).status_code == 200
    assert owner.post(where, fields, headers=SCRIPT).status_code == 200

    assert [len(entries(pot)) for pot in pots] == [1, 1, 1, 0]
    assert left(red) == 485_000


@pytest.mark.parametrize(
    ("fields", "kind"),
    [
        ({"kind": "temperature", "degrees": "82"}, "temperature"),
        ({"kind": "ph", "ph": "4.5"}, "ph"),
        ({"kind": "heat", "heat": "off"}, "heat"),
        ({"kind": "water", "ml": "12 l"}, "water"),
        ({"kind": "exhausted"}, "exhausted"),
    ],
)
def test_every_touch_goes_into_each_pot(owner, pots, fields, kind):
    answered = post(owner, "pot-tap", pots[0], into=[pots[1].code, pots[3].code], **fields)

    assert answered["X-Kept"] == pots[0].code
    assert [[entry.kind for entry in entries(pot)] for pot in pots] == [[kind], [kind], [], [kind]]


def test_a_bottle_goes_into_each_pot_with_the_phones_clock(owner, pots, red):
    at = timezone.now() - dt.timedelta(minutes=40)

    post(
        owner,
        "pot-tap",
        pots[0],
        kind="stock",
        bottle=red.pk,
        ml="7,5",
        clock=at.isoformat(),
        into=pots[1].code,
    )

    assert [what_is_in(pot).dyes[0].stock_microlitres for pot in pots[:2]] == [7_500, 7_500]
    assert {entry.happened_at for entry in LogEntry.objects.all()} == {at}


def test_the_pot_itself_named_again_and_a_code_typed_small_are_each_once(owner, pots):
    post(owner, "pot-log", pots[0], typed="heat on", into=[pots[0].code, pots[1].code.lower(), pots[1].code])

    assert [len(entries(pot)) for pot in pots] == [1, 1, 0, 0]


def test_all_or_none(owner, pots, red, marit):
    planned = factories.planned_pot(who=marit)

    answered = post(owner, "pot-log", pots[0], typed="5 ml red", into=[pots[1].code, planned.code])

    assert answered.status_code == 422
    assert f"Pot {planned.code} is planned. Load it first" in answered.content.decode()
    assert not LogEntry.objects.exists()
    assert left(red) == 500_000


def test_a_pot_that_nobody_knows_is_said_and_nothing_is_kept(owner, pots):
    answered = post(owner, "pot-tap", pots[0], kind="heat", heat="on", slug="heat", into="ZZZZZ")

    assert answered.status_code == 422
    assert "There is no pot ZZZZZ." in answered.content.decode()
    assert not LogEntry.objects.exists()
    with pytest.raises(NotAnEntry):
        pots_called(["ZZZZZ"], besides=pots[0])


def test_two_weighings_of_a_jar_are_of_one_pot(owner, pots, marit):
    jar = factories.jar(dye=factories.dye("Violet"), who=marit)

    for fields in ({"before": "25.43", "after": "25.06"}, {"before": "25.43"}):
        answered = post(owner, "pot-tap", pots[0], kind="powder", jar=jar.pk, into=pots[1].code, **fields)
        assert answered.status_code == 422
        assert "tells of one pot" in answered.content.decode()
    with pytest.raises(NotAnEntry):
        keep_line_in(
            pot=pots[0],
            also=[pots[1]],
            key=uuid.uuid4(),
            typed="jar 25.43 25.06 violet",
            who=marit,
        )
    assert not LogEntry.objects.exists()


def test_again_in_several_pots_is_what_went_into_the_one_it_is_written_at(pots, marit):
    keep_line(pot=pots[0], key=uuid.uuid4(), typed="5 ml red", who=marit)
    keep_line(pot=pots[1], key=uuid.uuid4(), typed="9 ml red", who=marit)

    keep_line_in(pot=pots[0], also=[pots[1]], key=uuid.uuid4(), typed="again", who=marit)

    assert [entry.microlitres for entry in entries(pots[0])] == [5_000, 5_000]
    assert [entry.microlitres for entry in entries(pots[1])] == [9_000, 5_000]


def test_struck_in_one_pot_it_stands_in_the_others_and_can_be_struck_there_too(owner, pots, red, marit):
    keep_line_in(pot=pots[0], also=pots[1:3], key=uuid.uuid4(), typed="5 ml red, heat on", who=marit)
    stock = entries(pots[0])[0]
    page = reverse("pot", args=[pots[0].code])
    assert "into 3 pots at once" in owner.get(page).content.decode()
    assert "Strike it in all 3 pots" in owner.get(page).content.decode()

    strike_one = reverse("pot-entry-strike", args=[pots[0].code, stock.key])
    owner.post(strike_one, {"key": uuid.uuid4()})
    assert what_is_in(pots[0]).is_empty
    assert not what_is_in(pots[1]).is_empty
    assert "Strike it in" in owner.get(page).content.decode()

    owner.post(strike_one, {"key": uuid.uuid4(), "pots": "all"})

    assert all(what_is_in(pot).is_empty for pot in pots)
    assert left(red) == 500_000
    heat = [entry for pot in pots[:3] for entry in entries(pot) if entry.kind == "heat"]
    assert not any(hasattr(entry, "struck_by") for entry in heat)
    assert LogEntry.objects.filter(kind="strike").count() == 3


def test_striking_in_all_twice_strikes_once(pots, marit):
    keep_line_in(pot=pots[0], also=pots[1:3], key=uuid.uuid4(), typed="5 ml red", who=marit)
    entry = entries(pots[1])[0]

    for _ in range(2):
        strike_in_all(entry=entry, key=uuid.uuid4(), who=marit)

    assert LogEntry.objects.filter(kind="strike").count() == 3


def test_put_back_in_one_pot_it_belongs_to_the_others_again(pots, marit):
    keep_line_in(pot=pots[0], also=pots[1:2], key=uuid.uuid4(), typed="5 ml red", who=marit)
    entry = entries(pots[0])[0]
    strike_in_all(entry=entry, key=uuid.uuid4(), who=marit)

    back = put_back(entry=entry, key=uuid.uuid4(), who=marit)

    assert back.together == entry.together


def test_what_went_into_one_pot_offers_no_other(owner, pots, marit):
    keep_line(pot=pots[0], key=uuid.uuid4(), typed="5 ml red", who=marit)

    page = owner.get(reverse("pot", args=[pots[0].code])).content.decode()

    assert "pots at once" not in page
    assert "in all" not in page


def test_the_other_pots_at_work_are_to_be_chosen_and_no_others(owner, pots, marit):
    planned = factories.planned_pot(who=marit)
    factories.lot_out(pot=pots[3], who=marit)

    page = owner.get(reverse("pot", args=[pots[0].code])).content.decode()

    for pot, offered in ((pots[0], 0), (pots[1], 1), (pots[2], 1), (pots[3], 0), (planned, 0)):
        assert page.count(f'name="into" value="{pot.code}"') == offered


def test_a_pot_alone_offers_nothing_to_choose(owner, marit):
    pot = factories.loaded_pot(who=marit)

    page = owner.get(reverse("pot", args=[pot.code])).content.decode()

    assert "Also into" not in page
    assert "Pots at work" not in page


def test_the_same_again_shows_its_amount_and_puts_just_that_in(owner, pots, red, marit):
    (entry,) = keep_line(pot=pots[0], key=uuid.uuid4(), typed="7.5 ml red", who=marit)
    page = owner.get(reverse("pot", args=[pots[0].code])).content.decode()
    assert "Same again" in page
    assert f'name="of" value="{entry.key}"' in page
    # Meanwhile the other phone puts something else in: the touch still means what its button showed.
    keep_line(pot=pots[0], key=uuid.uuid4(), typed="2 ml red", who=marit)

    answered = post(owner, "pot-again", pots[0], of=entry.key, into=pots[1].code)

    assert answered["X-Kept"] == pots[0].code
    assert [each.microlitres for each in entries(pots[0])] == [7_500, 2_000, 7_500]
    assert [each.microlitres for each in entries(pots[1])] == [7_500]
    assert entries(pots[0])[2].typed == ""
    assert left(red) == 500_000 - 7_500 - 2_000 - 2 * 7_500


def test_the_same_again_of_a_weighed_jar_is_another_scoop_of_that_weight(pots, marit):
    jar = factories.jar(dye=factories.dye("Violet"), who=marit)
    add_entry_in(
        pot=pots[0],
        also=[],
        key=uuid.uuid4(),
        kind="powder",
        who=marit,
        happened_at=timezone.now(),
        jar=jar,
        jar_before_milligrams=25_430,
        jar_after_milligrams=25_060,
    )

    keep_again(
        pot=pots[0],
        also=[],
        of=entries(pots[0])[0],
        key=uuid.uuid4(),
        who=marit,
        happened_at=timezone.now(),
    )

    second = entries(pots[0])[1]
    assert (second.milligrams, second.jar_before_milligrams, second.jar) == (370, None, jar)


def test_only_what_went_in_goes_in_again(owner, pots, marit):
    (heat,) = keep_line(pot=pots[0], key=uuid.uuid4(), typed="heat on", who=marit)

    assert "Same again" not in owner.get(reverse("pot", args=[pots[0].code])).content.decode()
    answered = post(owner, "pot-again", pots[0], of=heat.key)
    assert answered.status_code == 422
    assert "Only what went into the pot" in answered.content.decode()
    assert post(owner, "pot-again", pots[0], of=uuid.uuid4()).status_code == 404


def test_a_pot_not_loaded_takes_nothing(pots, marit):
    planned = factories.planned_pot(who=marit)
    with pytest.raises(NotLoaded):
        keep_line_in(pot=planned, also=pots, key=uuid.uuid4(), typed="heat on", who=marit)
    assert not LogEntry.objects.exists()


def test_a_page_with_many_pots_and_entries_together_takes_few_queries(
    owner, pots, marit, django_assert_max_num_queries
):
    put_up = pots[0].loads.get().put_up
    more = [factories.loaded_pot(put_up=put_up, who=marit) for _ in range(8)]
    for typed in ("5 ml red", "heat on", "82 C"):
        keep_line_in(pot=pots[0], also=[*pots[1:], *more], key=uuid.uuid4(), typed=typed, who=marit)

    with django_assert_max_num_queries(12):
        assert owner.get(reverse("pot", args=[pots[0].code])).status_code == 200
