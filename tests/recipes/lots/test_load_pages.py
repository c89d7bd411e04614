"""The pages on which a pot is loaded line by line, filled from a bath used again, put back; and judged apart after it."""

from __future__ import annotations

import uuid

import pytest
from django.test import Client
from django.urls import reverse

from dyehouse.ledger.models import Balance
from recipes.lots import finishing, log, pots
from recipes.lots.load_lines import LoadLine
from recipes.lots.models import JudgedPieces, Pot, RedyePlan
from recipes.lots.yarn_choices import dyed_value, free_to_overdye, undyed_value
from recipes.yarn import add_mill_lot, receive_yarn
from tests import factories

pytestmark = pytest.mark.django_db
MOST_QUERIES = 12


@pytest.fixture(autouse=True)
def studio():
    return factories.studio()


@pytest.fixture
def marit():
    return factories.OwnerFactory()


@pytest.fixture
def owner(marit) -> Client:
    client = Client()
    client.force_login(marit)
    return client


def yarn(who, *, grams: int = 100, number: str = "", put_up=None):
    made = put_up or factories.put_up(grams=grams)
    lot = add_mill_lot(base=made.base, number=number or uuid.uuid4().hex[:6])
    receive_yarn(key=uuid.uuid4(), put_up=made, mill_lot=lot, pieces=10, who=who)
    return made, lot


def lines(*typed: tuple[str, str, str]) -> dict[str, str]:
    sent = {"lines": str(len(typed))}
    for number, each in enumerate(typed):
        names = ("what", "pieces", "dry_weight")
        sent |= {f"line-{number}-{name}": value for name, value in zip(names, each, strict=True)}
    return sent


def post(client: Client, name: str, *args, **fields):
    return client.post(reverse(name, args=args), {"key": uuid.uuid4(), **fields})


def test_another_line_keeps_what_was_typed_also_what_is_wrong(owner, marit):
    sock, lot = yarn(marit)

    page = post(
        owner,
        "pot-new",
        several="1",
        put_up=sock.pk,
        mill_lot=lot.pk,
        pieces="3",
        dry_weight="a lot",
        strip="12",
    )

    assert page.status_code == 200
    shown = page.content.decode()
    assert 'name="lines" value="2"' in shown
    assert 'value="a lot"' in shown
    assert 'value="12"' in shown
    assert f'value="{undyed_value(sock, lot)}" selected' in shown
    assert "error" not in shown.split("<form", 1)[1]
    assert not Pot.objects.exists()


def test_a_line_is_taken_away_and_the_others_stay(owner, marit):
    sock, lot = yarn(marit)
    dk, other = yarn(marit)
    typed = lines((undyed_value(sock, lot), "3", ""), (undyed_value(dk, other), "2", "97,5"))

    page = post(owner, "pot-new", put_up=sock.pk, away="0", **typed).content.decode()

    assert 'name="lines" value="1"' in page
    assert 'value="97,5"' in page


def test_two_bases_are_loaded_in_one_pot(owner, marit):
    sock, lot = yarn(marit)
    dk, other = yarn(marit, grams=50)
    typed = lines((undyed_value(sock, lot), "3", ""), (undyed_value(dk, other), "2", "97,5"))

    answered = post(owner, "pot-new", put_up=sock.pk, strip="12 g", **typed)

    pot = Pot.objects.get()
    assert answered["Location"] == reverse("pot", args=[pot.code])
    assert list(pot.loads.order_by("pk").values_list("pieces", "dry_milligrams")) == [
        (3, 300_000), (2, 97_500)
    ]  # fmt: skip
    page = owner.get(answered["Location"]).content.decode()
    assert "a strip of <strong>12 g</strong>" in page
    assert "<strong>409.5 g</strong> dry" in page
    for name in ("pots", "day"):
        listed = owner.get(reverse(name)).content.decode()
        assert f"3 × {sock.base.name}, 100 g; 2 × {dk.base.name}, 50 g; a strip of 12 g" in listed


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        (("", "2", ""), "Choose the yarn of this line"),
        (("undyed-999999-unknown", "2", ""), "This yarn is not in the book"),
        (("dyed-1-2", "2", ""), "This yarn is not in the book"),
        (None, "At least 1 piece goes in"),
    ],
)
def test_a_line_that_cannot_be_is_asked_beside_it_and_nothing_is_loaded(owner, marit, line, sentence):
    sock, lot = yarn(marit)
    good = (undyed_value(sock, lot), "3", "")

    answered = post(
        owner, "pot-new", put_up=sock.pk, **lines(good, line or (undyed_value(sock, lot), "0", ""))
    )

    assert answered.status_code == 422
    assert sentence in answered.content.decode()
    assert not Pot.objects.exists()


def test_what_the_book_has_no_more_of_is_loaded_all_the_same(owner, marit):
    sock, lot = yarn(marit)
    typed = lines((undyed_value(sock, lot), "10", ""))
    post(owner, "pot-new", put_up=sock.pk, **typed)

    answered = post(owner, "pot-new", put_up=sock.pk, **typed)

    assert answered.status_code == 303
    assert Balance.objects.get(place__code="in_pots").on_hand == 20


def test_a_planned_pot_is_split_over_two_mill_lots(owner, marit):
    plan = factories.redye_plan(who=marit, pieces=4)
    pot = plan.pots.get(loads__pieces=4) if plan.pots.count() == 1 else plan.pots.first()
    _, first = yarn(marit, put_up=plan.put_up, number="4411")
    _, second = yarn(marit, put_up=plan.put_up, number="4502")

    page = post(owner, "pot-load", pot.code, several="1").content.decode()
    assert "lot 4502 (10)" in page
    typed = lines((undyed_value(plan.put_up, first), "2", ""), (undyed_value(plan.put_up, second), "2", ""))
    answered = post(owner, "pot-load", pot.code, **typed)

    assert answered["Location"] == reverse("pot", args=[pot.code])
    assert set(pot.loads.values_list("mill_lot__number", "pieces")) == {("4411", 2), ("4502", 2)}


def test_an_untouched_pot_goes_back_in_one_touch_from_its_own_page(owner, marit):
    lot, place, _ = factories.shelved_lot(who=marit, good=2, second=0)
    lying = free_to_overdye(lot.code)[0]
    post(owner, "pot-new", overdye=lot.code, **lines((dyed_value(lying.before), "2", "")))
    pot = Pot.objects.latest("pk")
    log.keep_line(pot=pot, key=uuid.uuid4(), typed="10 l water", who=marit)

    page = owner.get(reverse("pot", args=[pot.code])).content.decode()
    inside = page.split('id="pot-in"')[1].split("</section>")[0]
    assert reverse("pot-unload", args=[pot.code]) in inside
    answered = owner.post(reverse("pot-unload", args=[pot.code]), {"key": uuid.uuid4()}, follow=True)

    assert "is back where it lay before" in answered.content.decode()
    assert Balance.objects.get(place=place, lot=lot.lot).on_hand == 2


def test_a_lot_is_overdyed_from_its_own_page_and_both_pages_tell_it(owner, marit):
    first = factories.judged_lot(who=marit, good=3, second=2)
    page = owner.get(reverse("lot", args=[first.code])).content.decode()
    there = page.split("Overdye these")[0].rsplit('href="', 1)[1].split('"')[0].replace("&amp;", "&")

    opened = owner.get(there).content.decode()
    assert f"{first.code}" in opened
    lying = free_to_overdye(first.code)
    second = next(each for each in lying if each.before.was.grade == "second")
    post(owner, "pot-new", overdye=first.code, **lines((dyed_value(second.before), "2", "")))
    pot = Pot.objects.latest("pk")
    lot = finishing.out_of_pot(key=uuid.uuid4(), pot=pot, bath="clear", who=marit)

    was = owner.get(reverse("lot", args=[first.code])).content.decode()
    assert "2 overdyed" in was
    assert f'are lot <a class="code" href="{reverse("lot", args=[lot.code])}">' in was
    now = owner.get(reverse("lot", args=[lot.code])).content.decode()
    assert f'were lot <a class="code" href="{reverse("lot", args=[first.code])}">' in now


def test_the_overdyeing_page_lists_what_waits_to_be_redyed(owner, marit):
    lot = factories.lot_out(who=marit, pieces=2)
    put_up = lot.pots.get().loads.get().put_up
    finishing.judge(key=uuid.uuid4(), dye_lot=lot, counts={(put_up.pk, "redye"): 2}, who=marit)

    page = owner.get(reverse("pot-new") + "?overdye=").content.decode()

    assert f"{put_up.base.name} 100 g, to redye (2, Dry)" in page


@pytest.fixture
def earlier(marit) -> Pot:
    """A pot that took 2 g of red and came out tinted."""
    factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=marit), who=marit)
    pot = factories.loaded_pot(who=marit, pieces=2)
    for line in ("11.8 l water", "200 ml red 1%"):
        log.keep_line(pot=pot, key=uuid.uuid4(), typed=line, who=marit)
    finishing.out_of_pot(key=uuid.uuid4(), pot=pot, bath="tinted", who=marit)
    return pot


def test_a_bath_is_used_again_and_what_is_left_is_told_in_percent(owner, marit, earlier):
    sock, lot = yarn(marit)
    post(owner, "pot-new", put_up=sock.pk, mill_lot=lot.pk, pieces=1, dry_weight="", bath_from=earlier.code)
    pot = Pot.objects.latest("pk")

    page = owner.get(reverse("pot", args=[pot.code])).content.decode()
    assert "how much of Red was left is unknown" in page
    asked = owner.get(reverse("pot-bath", args=[pot.code])).content.decode()
    # The row for acid dyes of the published table: 80 to 93 % of 2 g leave 0.4 to 0.14 g.
    assert "Usually 80 to 93 % of such dye is taken up, which would leave 0.14 g to 0.4 g of 2 g." in asked
    red = earlier.entries.get(kind="stock").dye
    assert owner.post(reverse("pot-left", args=[pot.code]), {f"left_{red.pk}": "110 %"}).status_code == 422
    assert not pot.left_in_bath.exists()

    owner.post(reverse("pot-left", args=[pot.code]), {f"left_{red.pk}": "10 %"})

    assert pot.left_in_bath.get().micrograms == 200_000
    page = owner.get(reverse("pot", args=[pot.code])).content.decode()
    assert "unknown" not in page.split('id="pot-in"')[1].split("</section>")[0]
    assert "told by Marit at" in page


def test_the_bath_is_changed_to_fresh_water(owner, marit, earlier):
    sock, lot = yarn(marit)
    bath = {"bath_from": earlier.code, "bath_litres": "5"}
    post(owner, "pot-new", put_up=sock.pk, mill_lot=lot.pk, pieces=1, dry_weight="", **bath)
    pot = Pot.objects.latest("pk")
    assert pot.entries.get(kind="water").microlitres == 5_000_000

    post(owner, "pot-bath", pot.code, bath_from="")

    pot.refresh_from_db()
    assert pot.bath_from is None
    assert not pot.entries.filter(kind="water", struck_by__isnull=True).exists()


def test_lines_that_differ_are_judged_apart(owner, marit):
    sock, first = yarn(marit, number="4411")
    _, second = yarn(marit, put_up=sock, number="4502")
    pot = pots.load_pot(
        key=uuid.uuid4(), lines=[LoadLine(sock, first, 3), LoadLine(sock, second, 2)],
        vessel=None, colourway=None, who=marit,
    )  # fmt: skip
    one, two = pot.loads.order_by("pk")
    page = owner.get(reverse("pot-out", args=[pot.code])).content.decode()
    assert f"{sock.base.name} 100 g, mill lot 4502" in page
    post(owner, "pot-out", pot.code, bath="clear", **{f"out_{one.pk}": 3, f"out_{two.pk}": 2})

    page = owner.get(reverse("lot-judge", args=[pot.code])).content.decode()
    assert "mill lot 4411" in page
    counts = {f"good_{sock.pk}_{one.pk}": 3, f"redye_{sock.pk}_{two.pk}": 2}
    answered = post(owner, "lot-judge", pot.code, **counts)

    assert answered.status_code == 303
    assert set(JudgedPieces.objects.values_list("load", "outcome", "pieces")) == {
        (one.pk, "good", 3), (two.pk, "redye", 2)
    }  # fmt: skip
    assert "3 good of mill lot 4411" in owner.get(reverse("lot", args=[pot.code])).content.decode()


def test_a_strip_alone_comes_out_and_is_judged_in_words(owner, marit):
    sock, _ = yarn(marit)
    post(owner, "pot-new", put_up=sock.pk, strip="20", lines="0")
    pot = Pot.objects.get()
    log.keep_line(pot=pot, key=uuid.uuid4(), typed="1 l water", who=marit)
    for name in ("pot", "pot-weight", "pot-out", "wet-tag", "way-new"):
        assert owner.get(reverse(name, args=[pot.code])).status_code == 200, name
    for name in ("pots", "day"):
        assert "a strip of 20 g" in owner.get(reverse(name)).content.decode()
    post(owner, "pot-out", pot.code, bath="clear")

    assert "A strip of 20 g" in owner.get(reverse("lot", args=[pot.code])).content.decode()
    refused = post(owner, "lot-judge", pot.code, words="")
    assert "few words how the strip came out" in refused.content.decode()
    post(owner, "lot-judge", pot.code, words="A touch dull")
    assert "A touch dull" in owner.get(reverse("lot", args=[pot.code])).content.decode()


def test_a_sample_is_planned_at_one_touch_and_its_lot_leads_back_to_the_plan(owner, marit):
    way = factories.way(who=marit)
    put_up, vessel = way.base.put_ups.get(), factories.VesselFactory()
    said = {"pieces": 4, "put_up": put_up.pk, "vessel": vessel.pk, "ratio": "30", "mill_lot": "unknown"}

    answered = post(owner, "redye", way.colourway.code, way=way.pk, sample="1", **said)

    plan = RedyePlan.objects.get()
    assert answered["Location"] == reverse("redye-plan", args=[plan.pk])
    sample = plan.pots.get(sample=True)
    for name in ("pot", "pot-load", "wet-tag", "dye-card"):
        assert owner.get(reverse(name, args=[sample.code])).status_code == 200, name
    page = owner.get(answered["Location"]).content.decode()
    assert "Load the sample" in page
    assert "What measures badly at this size" in page
    post(owner, "pot-load", sample.code, strip="20")
    post(owner, "pot-out", sample.code, bath="clear")
    lot = owner.get(reverse("lot", args=[sample.code])).content.decode()
    assert reverse("redye-plan", args=[plan.pk]) in lot
    assert (
        owner.get(reverse("dye-card", args=[plan.pots.filter(sample=False).first().code])).status_code == 200
    )


def test_a_way_is_asked_for_one_of_two_bases(owner, marit):
    sock, lot = yarn(marit)
    dk, other = yarn(marit, grams=50)
    pot = pots.load_pot(
        key=uuid.uuid4(), lines=[LoadLine(sock, lot, 3), LoadLine(dk, other, 1)],
        vessel=None, colourway=None, who=marit,
    )  # fmt: skip
    factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=marit), who=marit)
    log.keep_line(pot=pot, key=uuid.uuid4(), typed="35 ml red 1%", who=marit)

    assert "For which base is this way?" in owner.get(reverse("way-new", args=[pot.code])).content.decode()
    owner.post(reverse("way-new", args=[pot.code]), {"keep": "1", "base": dk.base_id})

    assert pot.ways_learned.get().way.base == dk.base


@pytest.mark.parametrize("times", [1, 8])
def test_no_page_of_a_load_asks_more_with_more_rows(
    owner, marit, earlier, times, django_assert_max_num_queries
):
    for _ in range(times):
        sock, first = yarn(marit)
        _, second = yarn(marit, put_up=sock)
        lot = factories.judged_lot(who=marit, good=1, second=1, put_up=sock)
    lying = free_to_overdye(lot.code)[0]
    pot = pots.load_pot(
        key=uuid.uuid4(), vessel=None, colourway=None, who=marit, strip_milligrams=5_000,
        lines=[
            LoadLine(sock, first, 2), LoadLine(sock, second, 1),
            LoadLine(sock, None, 1, dyed_before=lying.before),
        ],
    )  # fmt: skip
    addresses = [
        reverse("pot-new"),
        reverse("pot-new") + f"?overdye={lot.code}",
        reverse("pot-new") + "?overdye=",
        reverse("pot", args=[pot.code]),
        reverse("pot-yarn", args=[pot.code]),
        reverse("pot-weight", args=[pot.code]),
        reverse("pot-bath", args=[pot.code]),
        reverse("pot-out", args=[pot.code]),
        reverse("lot", args=[lot.code]),
        reverse("pots"),
    ]
    for address in addresses:
        with django_assert_max_num_queries(MOST_QUERIES):
            assert owner.get(address).status_code == 200
    done = finishing.out_of_pot(key=uuid.uuid4(), pot=pot, bath="clear", who=marit)
    for name in ("lot", "lot-judge"):
        with django_assert_max_num_queries(MOST_QUERIES):
            assert owner.get(reverse(name, args=[done.code])).status_code == 200
