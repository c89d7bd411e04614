"""Before a dye day: what to mix for the planned pots, what will not suffice and by how much, what is past its day."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from recipes import yarn
from recipes.dyestuff import finish_bottle
from recipes.lots.before_day import before_day
from recipes.lots.models import PlannedStep
from recipes.models import StockBottle
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def who():
    factories.studio()
    return factories.OwnerFactory()


@pytest.fixture
def plan(who):
    """Ten skeins of 100 g at 0.1 % from a 1 % stock: 10 ml a skein, and 1.5 % citric acid."""
    return factories.redye_plan(who=who)


def needed_of(plan):
    steps = PlannedStep.objects.filter(pot__plan=plan, rule__kind="dye")
    return sum(step.microlitres for step in steps)


def test_what_all_planned_pots_take_together_stands_beside_what_is_there(plan, who):
    page = before_day(user=who)

    (stock,) = page.stocks
    assert len(page.chosen) == plan.pots.count()
    assert stock.needed.needed_microlitres == needed_of(plan) == 100_000
    assert stock.needed.suffices
    assert page.to_mix == []


def test_what_to_mix_is_grams_filled_up_with_water_and_leads_to_making_it(client, plan, who):
    for bottle in StockBottle.objects.all():
        finish_bottle(key=uuid.uuid4(), bottle=bottle, who=who, why="used up")
    client.force_login(who)

    shown = client.get(reverse("before-day")).content.decode()

    # 100 ml of 1 % w/v hold 1 g: 100 × 1 ÷ 100 (dye maker's page on calculating dye quantities).
    assert "Weigh <strong>1 g</strong> of Red and fill up with water to <strong>100 ml</strong>." in shown
    jar = StockBottle.objects.first().jar
    assert f"{reverse('stock-new')}?jar={jar.pk}&amp;strength=10000" in shown
    form = client.get(reverse("stock-new"), {"jar": jar.pk, "strength": "10000"}).content.decode()
    assert 'value="10000"' in form


def test_what_will_not_suffice_is_named_with_how_much_is_missing(client, plan, who):
    put_up = plan.put_up
    client.force_login(who)
    for bottle in StockBottle.objects.all():
        finish_bottle(key=uuid.uuid4(), bottle=bottle, who=who, why="used up")
    jar = StockBottle.objects.first().jar
    client.post(reverse("jar-count", args=[jar.pk]), {"key": uuid.uuid4(), "counted": "0.25", "why": "spilt"})
    citric = plan.pots.first().planned.get(rule__auxiliary__isnull=False).rule.auxiliary
    client.post(
        reverse("auxiliary-count", args=[citric.pk]), {"key": uuid.uuid4(), "counted": "5", "why": "spilt"}
    )

    page = before_day(user=who)

    assert f"{put_up}: 10 pieces too few." in page.short
    assert "Red: 0.75 g of powder too little for the stock of Red 1 %." in page.short
    assert "Citric acid: 10 g too little." in page.short
    shown = client.get(reverse("before-day")).content.decode()
    for sentence in page.short:
        assert sentence in shown
    assert reverse("auxiliary", args=[citric.pk]) in shown
    assert reverse("base", args=[put_up.base_id]) in shown


def test_yarn_is_reckoned_by_its_mill_lot(plan, who):
    put_up = plan.put_up
    one, two = (
        yarn.add_mill_lot(base=put_up.base, number=number, arrived_on=timezone.localdate())
        for number in ("M1", "M2")
    )
    for lot, pieces in ((one, 3), (two, 20)):
        yarn.receive_yarn(key=uuid.uuid4(), put_up=put_up, mill_lot=lot, pieces=pieces, who=who)
    first = plan.pots.order_by("pk").first()
    first.loads.update(mill_lot=one)

    by_lot = {each.mill_lot: each for each in before_day(user=who).yarn}

    # The first pot holds four of M1, of which there are three; the others take any, and M2 has twenty.
    assert (by_lot[one].wanted, by_lot[one].there, by_lot[one].short) == (4, 3, 1)
    assert (by_lot[None].wanted, by_lot[None].there, by_lot[None].short) == (6, 20, 0)


@pytest.mark.parametrize(
    ("best_before", "age", "minded", "word"),
    [
        (-1, 3, True, "past its day"),
        (5, 3, False, ""),
        (None, 3, True, "no date"),
        (5, 31, True, "31 days old"),
        (0, 30, False, ""),
    ],
)
def test_a_bottle_past_its_day_without_one_or_old_is_pointed_out(
    client, plan, who, best_before, age, minded, word
):
    now = timezone.now()
    StockBottle.objects.update(
        made_at=now - dt.timedelta(days=age),
        best_before=None if best_before is None else timezone.localdate() + dt.timedelta(days=best_before),
    )
    client.force_login(who)

    page = before_day(user=who)
    shown = client.get(reverse("before-day")).content.decode()

    assert bool(page.minded) is minded
    assert word in shown
    assert ("No bottle that these pots take is past its day" in shown) is not minded


def test_what_is_only_enough_with_a_bottle_past_its_day_leads_to_a_new_one(client, plan, who):
    StockBottle.objects.update(best_before=timezone.localdate() - dt.timedelta(days=1))
    client.force_login(who)

    (line,) = before_day(user=who).stocks

    assert (line.only_with_past, line.good_microlitres) == (True, 0)
    assert "Make this stock" in client.get(reverse("before-day")).content.decode()


def test_another_age_can_be_asked_for_and_a_wrong_one_is_said(client, plan, who):
    StockBottle.objects.update(
        made_at=timezone.now() - dt.timedelta(days=10), best_before=timezone.localdate()
    )
    client.force_login(who)

    assert "10 days old" in client.get(reverse("before-day"), {"older": "7"}).content.decode()
    wrong = client.get(reverse("before-day"), {"older": "soon"})
    assert wrong.status_code == 422
    assert "Write whole days" in wrong.content.decode()
    assert 'value="soon"' in wrong.content.decode()


def test_some_pots_or_one_plan_alone_are_reckoned(client, plan, who):
    other = factories.planned_pot(who=who)
    client.force_login(who)
    first = plan.pots.order_by("pk").first()

    one = before_day(user=who, codes={first.code})
    of_plan = before_day(user=who, plan=plan.pk)

    assert [line.pot for line in one.chosen] == [first]
    assert one.stocks[0].needed.needed_microlitres == 40_000
    assert {line.pot for line in of_plan.chosen} == set(plan.pots.all())
    assert [pot.code for pot in before_day(user=who).unreckoned] == [other.code]
    shown = client.get(reverse("before-day"), {"pot": first.code.lower()}).content.decode()
    assert "1 pot with 4 pieces" in shown
    assert "still planned" in client.get(reverse("before-day"), {"plan": "99999"}).content.decode()


def test_a_pot_that_was_loaded_is_no_longer_reckoned(client, plan, who):
    first = plan.pots.order_by("pk").first()
    client.force_login(who)
    client.post(reverse("pot-drop", args=[first.code]))

    assert before_day(user=who).stocks[0].needed.needed_microlitres == 60_000


def test_nothing_planned_says_what_to_do(client, who):
    client.force_login(who)

    assert "No pot is planned" in client.get(reverse("before-day")).content.decode()


def test_it_asks_no_more_of_the_database_for_more_pots(client, plan, who, django_assert_max_num_queries):
    factories.redye_plan(who=who, of=plan.way, pieces=40)
    factories.mix("evening", who=who)
    client.force_login(who)

    with django_assert_max_num_queries(12):
        client.get(reverse("before-day"))


def test_the_pages_of_pots_and_of_the_plan_lead_there(client, plan, who):
    client.force_login(who)

    assert reverse("before-day") in client.get(reverse("pots")).content.decode()
    assert (
        f"{reverse('before-day')}?plan={plan.pk}"
        in client.get(reverse("redye-plan", args=[plan.pk])).content.decode()
    )
