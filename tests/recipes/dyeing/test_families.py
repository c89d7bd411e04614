"""The short list of colour families."""

from __future__ import annotations

import pytest

from recipes.dyeing.families import FAMILIES, NotAFamily, family_called, family_names, in_order


def test_families_stand_in_the_order_of_the_list_each_once():
    assert in_order(["grey", "red", "grey"]) == ["red", "grey"]
    assert family_names(["many", "red", "gone"]) == ["red", "multicoloured"]


def test_a_family_that_the_list_does_not_have_is_refused():
    with pytest.raises(NotAFamily, match="“beige” is not one of the colour families"):
        in_order(["red", "beige"])


@pytest.mark.parametrize("family", FAMILIES)
def test_each_is_known_by_its_name_and_slug(family):
    assert family_called(family.name.upper()) == family.slug
    assert family_called(family.slug) == family.slug


@pytest.mark.parametrize(
    ("word", "slug"),
    [("Turquoise", "teal"), ("natural", "white"), ("gray", "grey"), ("purple", "violet"), ("beige", None)],
)
def test_other_words_for_one(word, slug):
    assert family_called(word) == slug
