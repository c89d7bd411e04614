"""The invented studio's notebook: families by the look of a colour, and recipes that nobody dyed by yet."""

from __future__ import annotations

import pytest

from dyehouse.demo.notes import RECIPES, families_of, write_notes_down
from recipes.lots.notebook.things import IT_IS, Things
from recipes.models import Colourway, WayOfDyeing
from tests import factories


@pytest.mark.parametrize(
    ("chips", "families"),
    [
        (["#C2203A"], ["red"]),
        (["#E8641B"], ["orange"]),
        (["#F2D027"], ["yellow"]),
        (["#1C5B45"], ["green"]),
        (["#1F4FA3"], ["blue"]),
        (["#5A3A8E"], ["violet"]),
        (["#5A3A26"], ["brown"]),
        (["#8C9196"], ["grey"]),
        (["#1B1A1D"], ["black"]),
        (["#E4DED2"], ["white"]),
        (["#F2E9DD", "#E13A77", "#2F7FC4"], ["blue", "pink", "white", "many"]),
    ],
)
def test_a_colour_is_of_the_family_that_it_looks_like(chips, families):
    assert families_of(chips) == families


@pytest.mark.django_db
def test_old_recipes_are_from_notes_with_their_own_words():
    owner = factories.OwnerFactory()
    factories.base("Harrow Sock")
    factories.base("Cold Byre Worsted")
    things = Things.now()
    for row in (row for recipe in RECIPES for row in recipe[-1] if row.what):
        things.called(
            row.what,
            "acid, liquid"
            if row.what == "White vinegar"
            else "acid, powder"
            if "acid" in row.what
            else next(iter(IT_IS)),
        )
    things.keep_new()
    factories.colourway("Moss")

    write_notes_down(owner=owner)

    ways = list(WayOfDyeing.objects.order_by("pk"))
    assert [way.base.name for way in ways] == ["Harrow Sock", "Cold Byre Worsted"]
    assert all(way.from_notes and way.as_written and way.noted_on for way in ways)
    assert Colourway.objects.get(name="Moss").snip == "Grey ring book, page 1"
