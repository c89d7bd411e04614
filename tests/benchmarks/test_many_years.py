"""What the benchmarks fill a ledger with is a ledger like any other."""

from __future__ import annotations

import pytest
from django.db import connection

from dyehouse.ledger.models import Balance, Line
from dyehouse.ledger.verify import breaches
from inventory.queries import shelf_page
from tests.benchmarks.many_years import DRY_LOTS, PIECES, SHELVED_LOTS, many_years


@pytest.mark.django_db
@pytest.mark.skipif(connection.vendor != "sqlite", reason="the bars of many years are SQLite's")
def test_many_years_agree_with_themselves_and_lie_where_they_should():
    years = many_years(lines=5_000)

    assert breaches() == []
    assert 5_000 <= Line.objects.count() < 5_020
    assert Balance.objects.filter(on_hand__lt=0).count() == 0
    page = shelf_page(user=years.owner)
    assert page.stages.shelved == SHELVED_LOTS * PIECES
    assert page.stages.dry == page.waiting_pieces == DRY_LOTS * PIECES
