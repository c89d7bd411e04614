"""Colourways: codes, names, secrets, and the yarn that carries them."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from dyehouse.ledger.models import Item
from dyehouse.studio.codes import is_valid
from recipes import colourways
from recipes.models import DyedYarn
from tests import factories

pytestmark = pytest.mark.django_db


def test_a_colourway_without_a_code_takes_a_new_one():
    first, second = colourways.new_colourway(), colourways.new_colourway()

    assert is_valid(first.code)
    assert first.code != second.code
    assert str(first) == first.code


def test_a_trial_gives_the_colourway_the_code_of_its_pot():
    assert colourways.new_colourway(code="K7M2X").code == "K7M2X"
    with pytest.raises(colourways.ColourwayCodeTaken):
        colourways.new_colourway(code="K7M2X")


def test_names_are_given_once_and_may_be_empty_often():
    factories.colourway("Tin roof")
    unnamed = factories.colourway()

    with pytest.raises(colourways.ColourwayNameTaken):
        colourways.name_colourway(colourway=unnamed, name=" tin  ROOF ")
    assert colourways.name_colourway(colourway=unnamed, name=" Ash  before rain ").name == "Ash before rain"
    assert colourways.name_colourway(colourway=unnamed, name="").name == ""


def test_only_hex_colours_stand_for_a_colourway():
    with pytest.raises(colourways.NotAColour, match="six of 0-9 A-F"):
        colourways.new_colourway(chips=["red"])
    assert colourways.new_colourway(chips=["#AABBCC"]).chips == ["#aabbcc"]


def test_a_secret_shows_its_code_until_its_day():
    owner, helper = factories.OwnerFactory(), factories.HelperFactory()
    colourway = factories.colourway("Tin roof")

    colourways.keep_secret(colourway=colourway, until=timezone.now() + dt.timedelta(days=3))
    assert colourway.shown_name(owner) == "Tin roof"
    assert colourway.shown_name(helper) == colourway.code
    assert colourway.shown_name(None) == colourway.code

    colourways.keep_secret(colourway=colourway, until=None)
    assert colourway.shown_name(helper) == "Tin roof"


def test_the_ledger_knows_a_dyed_yarn_by_its_code_alone():
    put_up, colourway = factories.put_up(), factories.colourway("Tin roof")

    good = colourways.dyed_yarn(colourway=colourway, put_up=put_up, grade=DyedYarn.Grade.GOOD)
    again = colourways.dyed_yarn(colourway=colourway, put_up=put_up, grade=DyedYarn.Grade.GOOD)
    second = colourways.dyed_yarn(colourway=colourway, put_up=put_up, grade=DyedYarn.Grade.SECOND)

    assert good == again
    assert good.item != second.item
    assert Item.objects.filter(kind=Item.Kind.DYED).count() == 2
    assert colourway.code in good.item.name
    assert "Tin roof" not in good.item.name
