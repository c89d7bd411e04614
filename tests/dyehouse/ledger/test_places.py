from __future__ import annotations

import pytest

from dyehouse.ledger.models import Place
from dyehouse.ledger.places import FIXED_PLACES, fixed_place

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db]


def test_every_fixed_place_is_there_after_a_migrate():
    assert set(FIXED_PLACES) <= set(Place.objects.values_list("code", flat=True))


@pytest.mark.parametrize("code", sorted(FIXED_PLACES))
def test_a_fixed_place_is_found_with_one_query(code, django_assert_num_queries):
    with django_assert_num_queries(1):
        place = fixed_place(code)

    assert (place.code, place.kind) == (code, FIXED_PLACES[code].kind)


def test_a_fixed_place_that_is_missing_is_made_again():
    Place.objects.filter(code="drying").delete()

    assert fixed_place("drying").name == "Drying"
    assert Place.objects.filter(code="drying").count() == 1


def test_an_unknown_code_is_refused():
    with pytest.raises(KeyError):
        fixed_place("attic")


@pytest.mark.django_db(transaction=True)
def test_fixed_places_come_back_after_everything_was_emptied():
    from django.core.management import call_command

    call_command("flush", interactive=False, verbosity=0)

    assert set(FIXED_PLACES) <= set(Place.objects.values_list("code", flat=True))
