"""The label of a kit: a line of fibres for each yarn, or one for all; whole weight and length; its code as the batch."""

from __future__ import annotations

import re
import uuid

import pytest
from django.urls import reverse

from dyehouse.paper.composition import Market
from dyehouse.paper.kit_fibres import Component, kit_fibres, needs_statement
from dyehouse.paper.models import PrintRun
from inventory import kits
from tests import factories
from tests.dyehouse.paper.reading import text_of

SOCK = {"wool": 750, "nylon": 250}


def test_a_component_from_30_percent_of_the_weight_on_has_its_own_statement():
    # Regulation (EU) No 1007/2011 Art. 11, from memory: 29 % optional, 30 % own statement; provisional
    for market in (Market.EU, Market.UK):
        assert not needs_statement(29_000, 100_000, market)
        assert needs_statement(30_000, 100_000, market)
    # 16 CFR 303.28, 303.29, detail from memory: units of different content are each labelled; provisional
    assert needs_statement(1, 100_000, Market.US)

    parts = [Component("Heron Sock", 71_000, SOCK), Component("Fell Lace", 29_000, {"silk": 1000})]
    assert kit_fibres(parts, Market.EU).line == "Heron Sock: 75 % wool, 25 % nylon; Fell Lace: 100 % silk"
    assert kit_fibres(parts, Market.EU).may_go == ("Fell Lace",)
    assert kit_fibres(parts, Market.EU, leave_out=True).line == "Heron Sock: 75 % wool, 25 % nylon"
    assert kit_fibres(parts, Market.US, leave_out=True).line == (
        "Heron Sock: 75% Wool, 25% Nylon; Fell Lace: 100% Silk"
    )


def test_yarns_of_the_same_fibres_share_one_line():
    # Regulation (EU) No 1007/2011 Art. 11(3), from memory; provisional
    parts = [Component("Heron Sock", 100_000, SOCK), Component("Heron Mini", 20_000, SOCK)]

    assert kit_fibres(parts, Market.EU).line == "75 % wool, 25 % nylon"


@pytest.mark.django_db
def test_the_label_names_all_yarns_the_whole_weight_and_the_kits_own_code_and_prints_again(client):
    factories.studio(
        name="Weir Lane", country="IE", postal_address="4 Quay Street\nBallydun", email="post@weir.example"
    )
    marit = factories.OwnerFactory()
    client.force_login(marit)
    _, place, sock = factories.shelved_lot(who=marit)
    _, _, lace = factories.shelved_lot(
        who=marit, place=place, put_up=factories.put_up(
            base=factories.base("Fell Lace", fibres={"silk": 1000}), pieces=5, grams=50, who=marit
        ),
    )  # fmt: skip
    parts = [kits.PartWanted(sock.colourway, sock.put_up, 2), kits.PartWanted(lace.colourway, lace.put_up, 1)]
    kit = kits.make_kit(name="Two by the water", kind="kit", parts=parts)
    where = reverse("kit-label", args=[kit.pk])

    before = client.get(where).content.decode()
    assert "build one first" in before

    built = kits.build(key=uuid.uuid4(), kit=kit, count=2, place=place, who=marit)
    page = client.get(where).content.decode()
    assert "Fell Lace: 100 % silk" in page
    assert "Art. 11, from memory" in page
    codes = [each.code for each in built]
    sent = {"key": uuid.uuid4(), "kits": codes, "market": "eu", "sheet": "a4-2x4", "start_at": 1}
    assert client.get(reverse("kit", args=[kit.pk])).content.decode().count(where) == 1
    answer = client.post(where, sent)

    assert answer["Content-Type"] == "application/pdf", answer.content.decode()
    for printed in (
        text_of(answer.content),
        text_of(client.get(reverse("labels-again", args=[PrintRun.objects.get().pk])).content),
    ):
        said = re.sub(r"\s+", " ", printed)
        # 2 × 100 g and 50 g; 2 × 400 m and 200 m.
        for words in ("Two by the water", "100 % silk", "75 % wool", "250 g", "1000 m", "Ballydun", *codes):
            assert words in said

    refused = client.post(where, {**sent, "key": uuid.uuid4(), "kits": []})
    assert refused.status_code == 422
    assert "Choose one kit at least." in refused.content.decode()
