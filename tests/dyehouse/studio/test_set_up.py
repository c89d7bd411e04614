"""The studio's first minute and what of it changes later."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from dyehouse.studio.models import Measure, Studio, Vessel
from dyehouse.studio.regions import countries, country_name, currency_of_countries, time_zones
from dyehouse.studio.setup import needs_set_up
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(client):
    person = factories.OwnerFactory()
    client.force_login(person)
    return person


def answers(**changed):
    """What the page sends when little is written in it."""
    said = {
        "name": "Slate Ford Yarns",
        "units": "metric",
        "country": "NO",
        "currency": "NOK",
        "time_zone": "Europe/Oslo",
        "label_sheet": "a4-3x8",
        "vessel-TOTAL_FORMS": "1",
        "vessel-INITIAL_FORMS": "0",
        "vessel-0-kind": "pot",
        "measure-TOTAL_FORMS": "1",
        "measure-INITIAL_FORMS": "0",
        "measure-0-kind": "scale",
        "water-hardness_unit": "mg_per_litre",
        "water-alkalinity_unit": "mg_per_litre",
    }
    return {**said, **{name.replace("__", "-"): value for name, value in changed.items()}}


def test_a_new_house_asks_and_an_answered_one_does_not(client, owner):
    assert needs_set_up(Studio.current())

    answer = client.post(reverse("set-up"), answers())

    assert (answer.status_code, answer["Location"]) == (303, "/")
    studio = Studio.current()
    assert not needs_set_up(studio)
    assert (studio.name, studio.currency, studio.time_zone) == ("Slate Ford Yarns", "NOK", "Europe/Oslo")


def test_nothing_must_be_answered(client, owner):
    answer = client.post(reverse("set-up-skip"), {"time_zone": "Europe/Oslo"})

    assert answer.status_code == 303
    studio = Studio.current()
    assert not needs_set_up(studio)
    assert (studio.name, studio.time_zone) == ("", "Europe/Oslo")


def test_beginning_with_an_unknown_zone_keeps_the_default(client, owner):
    client.post(reverse("set-up-skip"), {"time_zone": "Moon/Tranquility"})

    assert Studio.current().time_zone == "UTC"


def test_vessels_and_measures_are_kept_with_what_was_typed_in_any_unit(client, owner):
    client.post(
        reverse("set-up"),
        answers(
            vessel__TOTAL_FORMS="2",
            vessel__0__name="Big pot",
            vessel__0__working_millilitres="3 gal",
            vessel__0__hob_watts="2000",
            vessel__0__hob_kind="induction",
            vessel__1__kind="pot",
            measure__TOTAL_FORMS="2",
            measure__0__name="Fine scale",
            measure__0__step="0,01",
            measure__0__most="500 g",
            measure__1__name="Syringe",
            measure__1__kind="cylinder",
            measure__1__step="0.5 ml",
        ),
    )

    vessel = Vessel.objects.get()
    # 1 US gal = 3.785411784 l (NIST Handbook 44, Appendix C).
    assert (vessel.name, vessel.working_millilitres, vessel.hob_watts) == ("Big pot", 11_356, 2000)
    assert vessel.hob_kind == "induction"
    scale, syringe = Measure.objects.order_by("pk")
    assert (scale.step, scale.most) == (10, 500_000)
    assert (syringe.kind, syringe.step, syringe.most) == ("cylinder", 500, None)


@pytest.mark.parametrize(
    ("typed", "unit", "milligrams"),
    # facts, water units: 1 °dH = 17.848, 1 °fH = 10, 1 grain per US gallon = 17.118, 1 mmol/L = 100.09 mg/L CaCO3.
    [
        ("120", "mg_per_litre", 120),
        ("10", "german_degree", 178),
        ("7,5", "french_degree", 75),
        ("7", "us_grain_per_gallon", 120),
        ("1.5", "mmol_per_litre", 150),
    ],
)
def test_hardness_is_converted_from_its_unit(client, owner, typed, unit, milligrams):
    client.post(reverse("set-up"), answers(water__hardness=typed, water__hardness_unit=unit, water__ph="7,4"))

    studio = Studio.current()
    assert (studio.water_hardness_mg_per_litre, studio.water_ph_hundredths) == (milligrams, 740)


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"vessel__0__name": "Big pot"}, "Write how many litres"),
        ({"vessel__0__name": "Big pot", "vessel__0__working_millilitres": "a lot"}, "is not an amount"),
        ({"vessel__0__working_millilitres": "12"}, "Give the vessel a name"),
        ({"measure__0__name": "Scale", "measure__0__step": "0.01 ml"}, "is not a unit for this"),
        (
            {"measure__0__name": "Scale", "measure__0__step": "1", "measure__0__most": "0.5"},
            "less than one step",
        ),
        ({"water__ph": "15"}, "from 0 to 14"),
        ({"water__hardness": "4000", "water__hardness_unit": "german_degree"}, "more than 5000 mg/L"),
        ({"water__measured_on": "2999-01-01"}, "still to come"),
        ({"time_zone": "Moon/Tranquility"}, "Choose a time zone"),
    ],
)
def test_what_is_wrong_is_said_beside_its_field_and_nothing_is_kept(client, owner, changed, says):
    answer = client.post(reverse("set-up"), answers(**changed))

    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert "Slate Ford Yarns" in answer.content.decode()
    assert needs_set_up(Studio.current())
    assert not Vessel.objects.exists()


def test_two_vessels_of_one_name_are_refused(client, owner):
    rows = {
        f"vessel__{n}__{field}": value for n in (0, 1) for field, value in (("name", "Pot"), ("kind", "pot"))
    }
    litres = {f"vessel__{n}__working_millilitres": "12" for n in (0, 1)}

    answer = client.post(reverse("set-up"), answers(vessel__TOTAL_FORMS="2", **rows, **litres))

    assert answer.status_code == 422
    assert "Another vessel has this name" in answer.content.decode()
    assert not Vessel.objects.exists()


def test_a_vessel_is_changed_and_retired_later(client, owner):
    vessel = factories.VesselFactory(name="Big pot")
    changed = answers(
        vessel__TOTAL_FORMS="2",
        vessel__INITIAL_FORMS="1",
        vessel__0__pk=str(vessel.pk),
        vessel__0__name="Old pot",
        vessel__0__working_millilitres="9.5",
        vessel__0__retired="on",
        vessel__1__kind="pot",
    )

    client.post(reverse("set-up"), changed)

    vessel.refresh_from_db()
    assert (vessel.name, vessel.working_millilitres, vessel.hob_watts) == ("Old pot", 9_500, None)
    assert vessel.retired_at is not None


def test_a_kind_of_hob_that_there_is_not_is_refused_beside_it(client, owner):
    answer = client.post(
        reverse("set-up"),
        answers(vessel__0__name="Pot", vessel__0__working_millilitres="12", vessel__0__hob_kind="bonfire"),
    )

    assert answer.status_code == 422
    assert not Vessel.objects.exists()


def test_a_row_of_a_vessel_that_the_page_did_not_show_is_refused(client, owner):
    changed = answers(vessel__0__pk="99", vessel__0__name="Pot", vessel__0__working_millilitres="12")

    answer = client.post(reverse("set-up"), changed)

    assert answer.status_code == 422
    assert "out of date" in answer.content.decode()


def test_the_page_shows_what_was_kept(client, owner):
    factories.studio(water_hardness_mg_per_litre=178, water_measured_on=dt.date(2026, 3, 14))
    factories.VesselFactory(name="Big pot", working_millilitres=12_500)
    factories.CylinderFactory(step=500)

    page = client.get(reverse("set-up")).content.decode()

    for shown in ('value="12.5"', 'value="0.5 ml"', 'value="178"', 'value="2026-03-14"', "Big pot"):
        assert shown in page


def test_a_helper_does_not_open_the_studio(client):
    client.force_login(factories.HelperFactory())

    assert client.get(reverse("set-up")).status_code == 403
    assert client.post(reverse("set-up-skip")).status_code == 403


@pytest.mark.parametrize("many", [1, 50])
def test_the_page_asks_the_database_little_however_many_vessels_there_are(
    client, owner, many, django_assert_max_num_queries
):
    factories.VesselFactory.create_batch(many)
    factories.ScaleFactory.create_batch(many)

    with django_assert_max_num_queries(12):
        assert client.get(reverse("set-up")).status_code == 200


def test_countries_zones_and_currencies_are_the_standards_own():
    # ISO 3166-1 has 249 countries; the codes are those of the time zone database's table.
    assert len(countries()) == 249
    assert country_name("NO") == "Norway"
    assert country_name("??") == "??"
    assert {"UTC", "Europe/Oslo", "America/New_York"} <= set(time_zones())
    known = {code for code, _ in countries()}
    pairs = [pair.split(":") for pair in currency_of_countries().split()]
    assert {country for country, _ in pairs} <= known
    assert len({country for country, _ in pairs}) == len(pairs)
