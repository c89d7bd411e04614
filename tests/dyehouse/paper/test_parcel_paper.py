"""Papers of parcels: open ones have secrets by their code, sealed ones as the round says, and addresses are not kept."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from dyehouse.paper.models import PrintRun
from dyehouse.paper.parcel_paper import insert_cards, lay_out_address, slips, still_here
from dyehouse.paper.placed import LabelTooSmall
from dyehouse.paper.sheets import SHEETS
from inventory.promises.addresses import address_lines
from inventory.promises.parcels import contents_of
from tests import factories
from tests.inventory.promises.factories import parcel

pytestmark = pytest.mark.django_db


def test_papers_of_a_batch_say_what_each_may_and_the_run_keeps_no_address(client: Client):
    factories.studio()
    owner = factories.OwnerFactory()
    client.force_login(owner)
    made = parcel(who=owner)
    (stand,) = contents_of(made)
    colourway, round_ = stand.held[0].item.dyed.colourway, stand.box.round
    colourway.name, colourway.secret_until = "Lantern Smoke", timezone.now() + dt.timedelta(days=9)
    colourway.save()
    round_.insert_words, round_.names_on_sealed_paper = "Rest it by the window.", False
    round_.save()
    here = still_here(made.batch)
    (slip,) = slips(here)
    assert (slip.code, slip.pieces, slip.boxes[0][1][0].name) == (made.code, 1, colourway.code)
    (card,) = insert_cards(here)
    assert (card.words, card.rows[0].name) == ("Rest it by the window.", colourway.code)
    round_.names_on_sealed_paper = True
    round_.save()
    assert insert_cards(here)[0].rows[0].name == "Lantern Smoke"
    assert slips(here)[0].boxes[0][1][0].name == colourway.code

    code = made.batch.code
    for page in ("parcel-pick-paper", "parcel-slips-paper", "parcel-cards-paper"):
        answer = client.get(reverse(page, args=[code]))
        assert (answer.status_code, answer.content[:4]) == (200, b"%PDF"), page
    sheet = max(SHEETS, key=lambda each: each.label_width_um * each.label_height_um)
    answer = client.post(reverse("parcel-addresses-paper", args=[code]), {"sheet": sheet.slug, "start_at": 1})
    assert answer.content[:4] == b"%PDF"
    run = PrintRun.objects.get()
    assert (run.kind, run.codes, run.count) == ("address_labels", [made.code], 1)
    assert "Kade" not in str(run.payload)
    assert made.receiver.name not in str(run.payload)


def test_every_line_of_an_address_is_on_its_label_or_the_label_is_refused():
    made = parcel()
    lines = address_lines(made.receiver, sent_from="NL")
    assert lines[-1] == "1015 CJ AMSTERDAM"
    sheet = max(SHEETS, key=lambda each: each.label_width_um * each.label_height_um)
    page = lay_out_address(made.code, lines, sheet)
    assert [line.text for line in page.lines] == [*lines, made.code]
    with pytest.raises(LabelTooSmall, match="larger labels"):
        lay_out_address(made.code, ["A line of an address"] * 200, sheet)
