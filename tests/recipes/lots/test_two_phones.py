"""Two phones at one pot: what is sent twice is kept once, what both strike is struck once, nothing is lost."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from django.db import connection

from dyehouse.ledger.models import Balance
from recipes.lots.contents import what_is_in
from recipes.lots.log import StruckAlready, correct, keep_line, strike
from recipes.lots.models import LogEntry
from recipes.lots.together import keep_line_in, strike_in_all
from tests import factories

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db(transaction=True)]
PHONES = 6


def all_at_once(do: Callable[[int], Any]) -> list[Any]:
    """What each phone got, or the refusal it met."""

    def one(number: int) -> Any:
        try:
            return do(number)
        except StruckAlready as refused:
            return refused
        finally:
            connection.close()

    with ThreadPoolExecutor(PHONES) as phones:
        return list(phones.map(one, range(PHONES)))


@pytest.fixture
def bench():
    who = factories.OwnerFactory()
    bottle = factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=who), who=who)
    return who, bottle, factories.loaded_pot(who=who)


def test_a_line_that_arrives_from_six_phones_under_one_key_is_kept_once(bench):
    who, bottle, pot = bench
    key = uuid.uuid4()

    answers = all_at_once(lambda _: keep_line(pot=pot, key=key, typed="5 ml red, heat on", who=who))

    assert len({tuple(entry.pk for entry in entries) for entries in answers}) == 1
    assert LogEntry.objects.count() == 2
    assert Balance.objects.get(lot=bottle.lot, place__code="store").on_hand == 495_000


def test_six_phones_that_write_at_once_are_all_kept(bench):
    who, bottle, pot = bench

    all_at_once(lambda number: keep_line(pot=pot, key=uuid.uuid4(), typed=f"{number + 1} ml red", who=who))

    assert what_is_in(pot).dyes[0].stock_microlitres == 21_000
    assert Balance.objects.get(lot=bottle.lot, place__code="store").on_hand == 479_000


def test_six_phones_that_strike_and_correct_one_entry_do_it_once(bench):
    who, bottle, pot = bench
    (entry,) = keep_line(pot=pot, key=uuid.uuid4(), typed="5 ml red", who=who)

    def strike_or_correct(number: int) -> LogEntry:
        if number % 2:
            return strike(entry=entry, key=uuid.uuid4(), who=who)
        return correct(entry=entry, key=uuid.uuid4(), who=who, typed="15 ml red")

    all_at_once(strike_or_correct)

    assert LogEntry.objects.filter(strikes=entry).count() == 1
    corrected = LogEntry.objects.filter(corrects=entry).count()
    assert corrected in (0, 1)
    left = Balance.objects.get(lot=bottle.lot, place__code="store").on_hand
    assert left == 500_000 - corrected * 15_000


def test_a_line_for_three_pots_from_six_phones_under_one_key_is_kept_once_in_each(bench):
    who, bottle, first = bench
    pots = [first, *(factories.loaded_pot(who=who) for _ in range(2))]
    key = uuid.uuid4()

    def send(number: int) -> None:
        # Each phone names the pots in another order.
        turned = [*pots[number % 3 :], *pots[: number % 3]]
        keep_line_in(pot=turned[0], also=turned[1:], key=key, typed="5 ml red", who=who)

    all_at_once(send)

    assert sorted(LogEntry.objects.values_list("pot_id", flat=True)) == sorted(pot.pk for pot in pots)
    assert Balance.objects.get(lot=bottle.lot, place__code="store").on_hand == 485_000


def test_phones_at_one_pot_and_at_several_do_not_wait_for_each_other(bench):
    who, bottle, first = bench
    pots = [first, *(factories.loaded_pot(who=who) for _ in range(2))]

    def write(number: int) -> None:
        pot, others = pots[number % 3], [each for each in pots if each != pots[number % 3]]
        also = others if number < 3 else []
        keep_line_in(pot=pot, also=also, key=uuid.uuid4(), typed="5 ml red", who=who)

    all_at_once(write)

    # Three times into all three, and once into each alone.
    assert [what_is_in(pot).dyes[0].stock_microlitres for pot in pots] == [20_000] * 3
    assert Balance.objects.get(lot=bottle.lot, place__code="store").on_hand == 440_000


def test_what_six_phones_strike_in_all_pots_is_struck_once_in_each(bench):
    who, bottle, first = bench
    other = factories.loaded_pot(who=who)
    keep_line_in(pot=first, also=[other], key=uuid.uuid4(), typed="5 ml red", who=who)
    entries = list(LogEntry.objects.order_by("id"))

    all_at_once(lambda number: strike_in_all(entry=entries[number % 2], key=uuid.uuid4(), who=who))

    assert LogEntry.objects.filter(kind="strike").count() == 2
    assert Balance.objects.get(lot=bottle.lot, place__code="store").on_hand == 500_000
