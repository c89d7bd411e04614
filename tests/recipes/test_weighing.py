"""Pieces on the scale against the label of their put-up: what is said, and what is asked back."""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests import factories


@pytest.mark.django_db
def test_what_was_weighed_is_held_against_the_label_and_bad_numbers_are_asked_back(client):
    factories.studio()
    put_up = factories.put_up()
    client.force_login(factories.HelperFactory())
    where = reverse("put-up-weigh", args=[put_up.pk])

    good = client.get(where, {"weights": "99 101 100,4"}).content.decode()
    assert "The label holds for what was weighed." in good
    assert "300.4 g ÷ 3" in good
    assert "None may measure less than 384 m." in good

    bad = client.get(where, {"weights": "90.9 104 106"}).content.decode()
    assert "The label does not hold" in bad
    assert "none may be so with an e mark: 90.9 g" in bad

    for typed, said in (
        ("99 heavy", "“heavy” is not a number"),
        ("", "Write what the pieces weigh"),
        ("0", "more than 0 g"),
    ):
        asked = client.get(where, {"weights": typed})
        assert asked.status_code == 422
        assert said in asked.content.decode()
        assert f'value="{typed}"' in asked.content.decode() or not typed
    assert where in client.get(reverse("base", args=[put_up.base_id])).content.decode()
