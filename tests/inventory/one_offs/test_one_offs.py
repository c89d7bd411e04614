"""One-offs: out of a lot and back, sold once, and found, printed and traced under their own names."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.db.models import Sum
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from dyehouse.ledger.models import Balance
from dyehouse.ledger.operations import NotEnough
from dyehouse.ledger.verify import breaches
from dyehouse.paper.composition import Market
from dyehouse.paper.designs import Design
from dyehouse.paper.labelling import Printing, good_pieces, label_of
from dyehouse.paper.sheets import sheet_named
from dyehouse.studio.models import Studio
from inventory import holding, kits, matching, one_offs, stages
from inventory.finding import find
from inventory.models import OneOff
from inventory.one_off_queries import one_offs_page
from inventory.one_offs import Named, NotAOneOff, NotHereAnyMore
from inventory.standing_detail import dyed_detail
from inventory.trace import trace_pots
from recipes.colourways import keep_secret
from recipes.lots.load_lines import mill_lot_of
from recipes.lots.lot_queries import lot_page, lot_with_taken
from recipes.lots.models import DyeLot, Pot
from recipes.models import Colourway
from tests import factories
from tests.inventory.one_offs import factories as ones

MOST_QUERIES = 12


def here(lot: DyeLot) -> int:
    return Balance.objects.filter(lot=lot.lot).aggregate(sum=Sum("on_hand"))["sum"] or 0


def taken(names: list[str], **lot):
    owner = lot.pop("who", None) or factories.OwnerFactory()
    parent, place, dyed = factories.shelved_lot(who=owner, **lot)
    key = uuid.uuid4()
    made = one_offs.take_one_offs(
        key=key, dye_lot=parent, dyed=dyed, place=place, named=[Named(name) for name in names], who=owner
    )
    return owner, parent, place, dyed, made, key


def hold(one: OneOff, dyed, place, owner):
    return holding.hold_by_hand(
        key=uuid.uuid4(), dyed=dyed, dye_lot=one.dye_lot, place=place, pieces=1, for_whom="Ada Reed",
        until=timezone.localdate() + dt.timedelta(days=3), who=owner,
    )  # fmt: skip


@pytest.mark.django_db
class TestOutOfALot:
    def test_each_piece_has_a_lot_and_a_code_of_its_own_by_one_movement_each(self):
        owner, parent, place, dyed, made, key = taken(["Reed Bunting", "", "Old Rope"], good=4, second=0)

        assert here(parent) == 1
        assert [here(one.dye_lot) for one in made] == [1, 1, 1]
        assert [one.dye_lot.own_name for one in made] == ["Reed Bunting", made[1].dye_lot.code, "Old Rope"]
        assert [one.movement.line_count for one in made if one.movement] == [2, 2, 2]
        again = one_offs.take_one_offs(
            key=key, dye_lot=parent, dyed=dyed, place=place, named=[Named("x")] * 3, who=owner
        )
        assert again == made
        with pytest.raises(NotEnough):
            one_offs.take_one_offs(
                key=uuid.uuid4(), dye_lot=parent, dyed=dyed, place=place, named=[Named("x", 2)], who=owner
            )
        assert breaches() == []

    def test_both_pages_say_where_it_came_from_and_what_became_of_it(self):
        owner, parent, _, dyed, made, _ = taken(["Reed Bunting"], good=4, second=0)
        one = DyeLot.objects.select_related("colourway", "lot", "taken_from").get(pk=made[0].dye_lot.pk)

        of_parent, of_one = lot_page(parent, user=owner), lot_page(one, user=owner)

        assert (of_parent.went_out, of_parent.here, of_parent.taken_pieces, of_parent.gone) == (4, 3, 1, 0)
        assert (of_one.went_out, of_one.here, of_one.gone) == (1, 1, 0)
        assert of_one.name == "Reed Bunting"
        assert [pot.code for pot in of_one.pots] == [pot.code for pot in of_parent.pots]
        found, one_offs_of = lot_with_taken(parent.code)
        traced = trace_pots(Pot.objects.filter(dye_lot=parent), user=owner, lot=found, taken=one_offs_of)
        assert [each.code for each in traced.became] == [one.code]
        assert mill_lot_of(one, dyed.put_up) == mill_lot_of(parent, dyed.put_up)

    def test_put_back_it_is_of_its_lot_again_wherever_it_lies(self):
        owner, parent, _, dyed, [one], _ = taken(["Reed Bunting"], good=2, second=0)
        elsewhere = factories.shelf_place()
        moving = [stages.Moving(dyed, one.dye_lot, Balance.objects.get(lot=one.dye_lot.lot).place, 1)]
        stages.move_on(key=uuid.uuid4(), moving=moving, to=elsewhere, who=owner)

        one_offs.put_back(one_off=one, key=uuid.uuid4(), who=owner)

        assert (here(parent), here(one.dye_lot)) == (2, 0)
        assert Balance.objects.get(lot=parent.lot, place=elsewhere).on_hand == 1
        assert one.movement is not None
        assert one.movement.reversed_by is not None
        assert (lot_page(parent, user=owner).taken_pieces, breaches()) == (0, [])
        with pytest.raises(NotAOneOff):
            one_offs.put_back(one_off=one, key=uuid.uuid4(), who=owner)

    def test_held_or_sold_it_stays_what_it_is_and_is_never_sold_twice(self):
        owner, _, place, dyed, [one], _ = taken(["Reed Bunting"], good=2, second=0)
        held = hold(one, dyed, place, owner)
        with pytest.raises(NotHereAnyMore, match="held"):
            one_offs.put_back(one_off=one, key=uuid.uuid4(), who=owner)
        with pytest.raises(NotEnough):
            hold(one, dyed, place, owner)
        assert one_offs_page(user=owner).lines[0].held_for == "Ada Reed"

        holding.hand_over(held=held, key=uuid.uuid4(), who=owner)

        with pytest.raises(NotHereAnyMore):
            one_offs.put_back(one_off=one, key=uuid.uuid4(), who=owner)
        assert one_offs_page(user=owner).lines == []
        assert [line.where for line in one_offs_page(user=owner, gone=True).lines] == ["sold"]

    def test_a_small_lot_is_one_as_a_whole_and_its_name_changes(self):
        owner = factories.OwnerFactory()
        lot, _, _ = factories.shelved_lot(good=2, second=0, who=owner)

        one = one_offs.name_whole_lot(key=uuid.uuid4(), dye_lot=lot, name="Two Herons", who=owner)
        one_offs.call_one_off(one_off=one, name="Three Herons", words="for a shawl")

        lot.refresh_from_db()
        assert (lot.own_name, one.pieces) == ("Three Herons", 2)
        one_offs.put_back(one_off=one, key=uuid.uuid4(), who=owner)
        lot.refresh_from_db()
        assert lot.own_name == ""

    def test_what_is_not_judged_dry_and_for_sale_is_none(self):
        owner = factories.OwnerFactory()
        lot = factories.lot_out(pieces=2, who=owner)
        dyed = Balance.objects.get(lot=lot.lot).item.dyed
        place = Balance.objects.get(lot=lot.lot).place
        with pytest.raises(NotAOneOff):
            one_offs.take_one_offs(
                key=uuid.uuid4(), dye_lot=lot, dyed=dyed, place=place, named=[Named("x")], who=owner
            )
        _, _, shelf, good, [one], _ = taken(["x"], good=2, second=0, who=owner)
        with pytest.raises(NotAOneOff, match="already"):
            one_offs.take_one_offs(
                key=uuid.uuid4(), dye_lot=one.dye_lot, dyed=good, place=shelf, named=[Named("y")], who=owner
            )


class TestTheSumHolds(TestCase):
    @settings(max_examples=8, deadline=None)
    @given(steps=st.lists(st.tuples(st.booleans(), st.integers(1, 3)), max_size=5))
    def test_a_lot_and_its_one_offs_always_sum_to_what_came_out(self, steps: list[tuple[bool, int]]):
        owner = factories.OwnerFactory()
        parent, place, dyed = factories.shelved_lot(good=4, second=0, who=owner)
        made: list[OneOff] = []
        for out, pieces in steps:
            if out:
                try:
                    made += one_offs.take_one_offs(
                        key=uuid.uuid4(), dye_lot=parent, dyed=dyed, place=place,
                        named=[Named("x")] * pieces, who=owner,
                    )  # fmt: skip
                except NotEnough:
                    continue
            elif made:
                one_offs.put_back(one_off=made.pop(), key=uuid.uuid4(), who=owner)

        page = lot_page(parent, user=owner)
        assert here(parent) + sum(here(one.dye_lot) for one in made) == 4
        assert (page.here + page.taken_pieces, page.gone, breaches()) == (4, 0, [])


@pytest.mark.django_db
class TestElsewhere:
    def test_it_is_promised_by_its_name_alone(self):
        owner, _, _, dyed, [one], _ = taken(["Reed Bunting"], good=2, second=0)

        kit = kits.make_kit(name="Fade", kind="fade", parts=[kits.PartWanted(dyed.colourway, dyed.put_up, 2)])
        assert kits.can_make([kit])[kit.pk].kits == 0
        with pytest.raises(matching.NotASet):
            matching.offers(dyed=dyed, pieces=2)
        counts = dyed_detail(colourway=dyed.colourway, put_up=dyed.put_up, user=owner).standing.counts
        assert (counts.owned, counts.free_here, counts.one_offs) == (2, 1, 1)
        of_these = [kits.Taken(dyed, one.dye_lot.lot, Balance.objects.get(lot=one.dye_lot.lot).place, 1)]
        built = kits.build_of_these(
            key=uuid.uuid4(), name="Mixed", taken=of_these, place=factories.shelf_place(), who=owner
        )
        assert one_offs_page(user=owner, gone=True).lines[0].where == f"in kit {built.code}"

    def test_a_held_one_that_goes_bad_is_best_replaced_from_the_lot_it_was_taken_from(self):
        owner, parent, place, dyed, [one], _ = taken(["Reed Bunting"], good=2, second=0)
        factories.judged_lot(good=3, second=0, colourway=parent.colourway, put_up=dyed.put_up, who=owner)
        held = hold(one, dyed, place, owner)

        best = stages.next_best(held=held.claim.held.get(), pieces=1)

        assert [(each.row.lot_id == parent.lot_id, each.same_lot) for each in best] == [
            (True, True),
            (False, False),
        ]

    def test_its_label_and_the_search_go_by_its_name_and_a_secret_by_its_code(self):
        owner, _, _, _, [one], _ = taken(["Reed Bunting"], good=2, second=0)
        helper = factories.HelperFactory()
        factories.studio()
        printing = Printing(Studio.current(), Market.UK, Design("tag", "Tag", "tag"), sheet_named("a4-3x8"))
        [line] = good_pieces(user=helper, codes=[one.dye_lot.code])
        assert label_of(line, printing)[0].colourway == "Reed Bunting"
        assert [hit.kind for hit in find("reed bun", user=helper).hits] == ["One-off"]

        keep_secret(
            colourway=Colourway.objects.get(pk=one.dye_lot.colourway_id),
            until=timezone.now() + dt.timedelta(days=9),
        )

        [line] = good_pieces(user=helper, codes=[one.dye_lot.code])
        assert "Reed" not in label_of(line, printing)[0].colourway + line.name
        assert find("reed bun", user=helper).hits == []
        assert [hit.title for hit in find("reed bun", user=owner).hits] == ["Reed Bunting"]


@pytest.mark.django_db
class TestPages:
    def test_one_after_the_other_with_a_photo_and_a_name(self, client: Client, tmp_path, settings):
        settings.MEDIA_ROOT = tmp_path
        owner = factories.OwnerFactory()
        factories.studio()
        lot, place, dyed = factories.shelved_lot(good=3, second=0, who=owner)
        client.force_login(owner)
        address, of = reverse("one-new", args=[lot.code]), f"{dyed.pk}-{place.pk}"
        for name in ("Reed Bunting", "Old Rope"):
            photo = factories.photo_file()
            sent = {"key": uuid.uuid4(), "of": of, "pieces": 1, "name": name, "photo": photo}
            answer = client.post(address, sent)
            assert answer["Location"] == f"{address}?of={of}"
        refused = client.post(address, {"key": uuid.uuid4(), "of": of, "pieces": 9, "name": "Too many"})
        assert refused.status_code == 422
        assert "Too many" in refused.content.decode()
        client.post(reverse("one-rest", args=[lot.code]), {"key": uuid.uuid4(), "of": of, "count": 1})

        lines = one_offs_page(user=owner).lines
        assert [line.name for line in lines][1:] == ["Old Rope", "Reed Bunting"]
        assert lines[1].photo is not None
        assert here(lot) == 0
        one = lines[1].lot.code
        client.post(reverse("one-off", args=[one]), {"key": uuid.uuid4(), "name": "New Rope", "words": ""})
        page = client.get(reverse("lot", args=[one])).content.decode()
        assert "New Rope" in page
        assert reverse("standing-dyed", args=[lot.colourway.code, dyed.put_up_id]) in page
        client.post(reverse("one-back", args=[one]), {"key": uuid.uuid4()})
        assert here(lot) == 1

    def test_however_many_there_are_the_queries_stay_few(self, client, django_assert_max_num_queries):
        owner, parent, _, _, made, _ = taken(["a", "b", "c"], good=4, second=0)
        factories.studio()
        client.force_login(owner)
        for address in (
            reverse("one-offs"),
            reverse("one-off", args=[made[0].dye_lot.code]),
            reverse("one-new", args=[parent.code]),
            reverse("lot", args=[parent.code]),
            reverse("lot", args=[made[0].dye_lot.code]),
            reverse("trace", args=[parent.code]),
            reverse("trace", args=[made[0].dye_lot.code]),
            f"{reverse('find')}?for=zz",
        ):
            with django_assert_max_num_queries(MOST_QUERIES, info=address):
                assert client.get(address).status_code == 200
        assert ones.one_off().pieces == 1
