"""A mix at the pot: named in a line or touched, its share of every dye counted, struck, corrected, and learned from."""

from __future__ import annotations

import datetime as dt
import uuid
from fractions import Fraction

import pytest
from django.urls import reverse

from dyehouse.ledger.models import Balance
from recipes import mixes
from recipes.lots import learning, log
from recipes.lots.bench import set_bench
from recipes.lots.contents import what_is_in
from recipes.lots.models import LogEntry
from recipes.lots.together import keep_line_in
from recipes.lots.wording import entry_words
from recipes.models import Rule
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def who():
    return factories.OwnerFactory()


@pytest.fixture
def pot(who):
    return factories.loaded_pot(who=who, pieces=5)


@pytest.fixture
def evening(who):
    """A litre with 3 g Red from a jar and 200 ml of Teal 0.5 %, which is 1 g."""
    red = factories.jar(dye=factories.dye("Red"), who=who)
    teal = factories.bottle(
        jar=factories.jar(dye=factories.dye("Teal"), who=who), strength_mg_per_litre=5_000, who=who
    )
    return factories.mix("evening", grams={red: 3}, poured={teal: 200}, who=who)


def keep(pot, typed, who):
    return log.keep_line(pot=pot, key=uuid.uuid4(), typed=typed, who=who)


def in_store(lot):
    return Balance.objects.get(lot=lot, place__code="store").on_hand


def in_pot(pot):
    return {each.dye.name: each.milligrams for each in what_is_in(pot).dyes}


@pytest.mark.parametrize(
    ("typed", "millilitres"),
    [
        ("50 ml of jug evening", 50),
        ("100 ml mix evening", 100),
        ("50ml evening", 50),
        ("evening 30 ml", 30),
        ("50 ml of the jug evening", 50),
        ("added 60 ml from jug evening", 60),
        ("added 60 ml from the mix evening at 9:20", 60),
        ("0.5 l of jug evening", 500),
        ("mix evening: 12.5 ml", Fraction(25, 2)),
        ("another 20 ml of mix evening", 20),
        ("poured in 20 ml jug evening", 20),
    ],
)
def test_a_line_names_an_open_mix(pot, evening, who, typed, millilitres):
    (entry,) = keep(pot, typed, who)

    assert (entry.kind, entry.mix, entry.microlitres, entry.question) == (
        "mix",
        evening,
        millilitres * 1000,
        "",
    )
    assert in_store(evening.lot) == 1_000_000 - millilitres * 1000


def test_the_code_and_its_beginning_name_it_too(pot, evening, who):
    for code in (evening.code, evening.code.lower(), evening.code[:3]):
        (entry,) = keep(pot, f"5 ml of jug {code}", who)
        assert (entry.mix, entry.microlitres) == (evening, 5_000), code


def test_a_beginning_that_two_mixes_share_is_asked(pot, evening, who):
    bench = set_bench()
    twin = factories.mix("", who=who)
    type(twin).objects.filter(pk=twin.pk).update(code=evening.code[:4] + "Z")
    assert bench.mixes

    (entry,) = keep(pot, f"5 ml of jug {evening.code[:3]}", who)

    assert entry.mix is None
    assert entry.question


@pytest.mark.parametrize(
    "typed",
    [
        "5 g evening",
        "50 ml jug morning",
        "half of jug evening",
        "not the jug evening 50 ml",
        "5 ml evening or 10 ml",
        "50 ml water from teal",
        "wanted 50 ml of jug evening",
        "50 ml out of jug evening spilt",
        "took 50 ml from the pot",
        "mixed 50 ml evening",
        "evening 20",
        "50 ml evening red",
    ],
)
def test_what_is_not_certain_takes_nothing_from_the_jug(pot, evening, who, typed):
    keep(pot, typed, who)

    assert in_store(evening.lot) == 1_000_000
    assert not LogEntry.objects.filter(kind="mix").exists()


def test_a_strength_typed_with_a_mix_is_asked_about(pot, evening, who):
    (entry,) = keep(pot, "50 ml jug evening 1%", who)

    assert entry.kind == "mix"
    assert "a strength of its own" in entry.question


def test_an_unnamed_measure_of_a_mix_counts_for_no_dye_and_asks(pot, evening, who):
    (entry,) = keep(pot, "3 squirts of jug evening", who)

    assert (entry.kind, entry.as_typed, entry.question) == (
        "mix",
        "3 squirts",
        "How many ml of it were that?",
    )
    assert what_is_in(pot).unweighed == [entry]
    assert in_pot(pot) == {}


def test_its_share_of_each_dye_is_in_the_pot_exactly(pot, evening, who):
    keep(pot, "7 l water", who)
    keep(pot, "33.3 ml of jug evening", who)
    keep(pot, "10 ml red 1%", who)

    # 33.3 ml of 1,000 ml: 3 g × 0.0333 and 1 g × 0.0333; the stock's 10 ml of 1 % hold 0.1 g more.
    assert in_pot(pot) == {"Red": Fraction(999, 10) + 100, "Teal": Fraction(333, 10)}
    contents = what_is_in(pot)
    assert contents.bath_microlitres == 7_000_000 + 33_300 + 10_000
    red = next(each for each in contents.dyes if each.dye.name == "Red")
    assert "mixes" in red.working.steps[-1].formula
    assert any("3 g × 33.3 ml ÷ 1000 ml" in step.substitution for step in red.working.steps)


def test_a_third_of_a_jug_is_not_rounded(pot, who):
    jug = factories.mix(grams={factories.jar(who=who): 1}, millilitres=300, who=who)
    keep(pot, f"100 ml jug {jug.code}", who)

    assert list(in_pot(pot).values()) == [Fraction(1000, 3)]


def test_struck_and_put_back_the_jug_follows(pot, evening, who):
    (entry,) = keep(pot, "100 ml jug evening", who)

    log.strike(entry=entry, key=uuid.uuid4(), who=who)
    assert in_store(evening.lot) == 1_000_000
    assert in_pot(pot) == {}

    log.put_back(entry=entry, key=uuid.uuid4(), who=who)
    assert in_store(evening.lot) == 900_000
    assert in_pot(pot)["Teal"] == 100


def test_corrected_it_takes_what_it_really_took(pot, evening, who):
    (entry,) = keep(pot, "100 ml jug evening", who)

    log.correct(entry=entry, key=uuid.uuid4(), who=who, typed="80 ml jug evening")

    assert in_store(evening.lot) == 920_000
    assert in_pot(pot)["Red"] == 240


def test_the_same_again_is_the_same_mix(pot, evening, who):
    keep(pot, "40 ml jug evening", who)
    (entry,) = keep(pot, "same again", who)

    assert (entry.kind, entry.mix, entry.microlitres) == ("mix", evening, 40_000)


def test_a_jug_that_is_empty_by_the_book_refuses_nothing(pot, evening, who):
    (entry,) = keep(pot, "1.2 l of jug evening", who)

    assert entry.question == ""
    assert in_store(evening.lot) == 0
    assert in_pot(pot)["Red"] == 3_600


def test_a_finished_mix_is_no_longer_meant(pot, evening, who):
    mixes.finish_mix(key=uuid.uuid4(), mix=evening, who=who, why="used up")

    (entry,) = keep(pot, "40 ml jug evening", who)

    assert entry.mix is None
    assert entry.question


def test_a_pot_that_holds_a_mix_is_not_put_back(pot, evening, who, client):
    keep(pot, "40 ml jug evening", who)
    client.force_login(who)

    client.post(reverse("pot-unload", args=[pot.code]), {"key": uuid.uuid4()})

    pot.refresh_from_db()
    assert pot.state == "in work"


def test_touched_on_the_bench_it_is_kept_with_its_last_amount_offered(client, pot, evening, who):
    client.force_login(who)
    shown = client.get(reverse("pot", args=[pot.code])).content.decode()
    assert "Mix evening" in shown

    client.post(
        reverse("pot-tap", args=[pot.code]),
        {"key": uuid.uuid4(), "kind": "mix", "mix": evening.pk, "ml": "75", "slug": "mix"},
    )

    entry = LogEntry.objects.get(kind="mix")
    assert (entry.mix, entry.microlitres) == (evening, 75_000)
    shown = client.get(reverse("pot", args=[pot.code])).content.decode()
    assert "75 ml of mix evening" in shown
    assert "Red 0.3 % from jar 1" in shown
    assert "Teal 0.1 % from the bottle made" in shown
    assert 'name="microlitres" value="75000"' in shown


def test_a_touch_without_an_amount_says_so_beside_it(client, pot, evening, who):
    client.force_login(who)

    answered = client.post(
        reverse("pot-tap", args=[pot.code]),
        {"key": uuid.uuid4(), "kind": "mix", "mix": evening.pk, "slug": f"mix-{evening.pk}"},
    )

    assert "how many ml went in" in answered.content.decode()
    assert not LogEntry.objects.exists()


def test_a_jug_that_nobody_knows_is_answered_with_an_open_mix(client, pot, evening, who):
    (entry,) = keep(pot, "200 ml jug A", who)
    client.force_login(who)
    assert "Mix evening</button>" in client.get(reverse("pot", args=[pot.code])).content.decode()

    client.post(
        reverse("pot-entry-answer", args=[pot.code, entry.key]), {"key": uuid.uuid4(), "mix": evening.pk}
    )

    assert in_pot(pot)["Red"] == 600
    assert in_store(evening.lot) == 800_000


def test_a_pour_teaches_a_rule_for_each_of_its_dyes(pot, evening, who):
    keep(pot, "8 l water", who)
    keep(pot, "500 ml of jug evening", who)

    way = learning.learn_way(pot=pot, who=who)

    red, teal = Rule.objects.filter(way=way, kind="dye").order_by("number")
    # 1.5 g and 0.5 g on 500 g of dry fibre: 3 g and 1 g a kilogram, kept in micrograms.
    assert (red.dye.name, red.basis, red.thousandths) == ("Red", "fibre", 3_000_000)
    assert (teal.dye.name, teal.basis, teal.thousandths) == ("Teal", "fibre", 1_000_000)
    assert red.text == teal.text == "from mix evening"
    # Red was weighed into the jug, Teal was dosed from its stock.
    assert (red.strength_mg_per_litre, teal.strength_mg_per_litre) == (None, 5_000)


def test_another_basis_is_chosen_for_one_dye_of_a_pour(client, pot, evening, who):
    keep(pot, "500 ml of jug evening", who)
    client.force_login(who)
    rules = [rule for rule in learning.propose_way(pot).rules if rule.is_addition]
    assert len({rule.entry.key for rule in rules}) == 2

    client.post(reverse("way-new", args=[pot.code]), {f"basis_{rules[0].entry.key}": "pot", "keep": "1"})

    assert [rule.basis for rule in Rule.objects.filter(kind="dye").order_by("number")] == ["pot", "fibre"]


def test_the_page_of_a_pot_asks_no_more_of_the_database_for_more_mixes(
    client, pot, evening, who, django_assert_max_num_queries
):
    factories.studio()
    client.force_login(who)
    for number in range(4):
        jug = factories.mix(f"fog{number}", who=who)
        keep(pot, f"{number + 1}0 ml of jug {jug.code}", who)
        keep(pot, "10 ml jug evening", who)

    with django_assert_max_num_queries(12):
        client.get(reverse("pot", args=[pot.code]))


def test_the_record_says_which_bottle_it_was_and_when_that_was_made(client, pot, who):
    made = dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)
    jar = factories.jar(dye=factories.dye("Red"), label="L7", who=who)
    factories.bottle(jar=jar, who=who, made_at=made)
    keep(pot, "5 ml red", who)
    client.force_login(who)

    shown = client.get(reverse("pot", args=[pot.code])).content.decode()

    assert "bottle made 1 March 2026 from L7" in shown


def test_one_pour_into_two_pots_takes_twice_from_the_jug(pot, evening, who):
    other = factories.loaded_pot(who=who)

    keep_line_in(pot=pot, also=[other], key=uuid.uuid4(), typed="100 ml jug evening", who=who)

    assert in_store(evening.lot) == 800_000
    assert in_pot(pot) == in_pot(other) == {"Red": 300, "Teal": 100}


def test_the_same_pour_twice_is_asked_about_and_kept(client, pot, evening, who):
    client.force_login(who)
    for _ in range(2):
        keep(pot, "100 ml jug evening", who)

    shown = client.get(reverse("pot", args=[pot.code])).content.decode()

    assert "twice?" in shown.lower()
    assert in_store(evening.lot) == 800_000


def test_a_planned_pot_with_mixes_and_questions_keeps_to_its_queries(
    client, who, django_assert_max_num_queries
):
    factories.studio()
    planned = factories.redye_plan(who=who).pots.first()
    jug = factories.mix("fog", who=who)
    client.force_login(who)
    client.post(
        reverse("pot-load", args=[planned.code]),
        {"mill_lot": planned.loads.get().mill_lot_id, "dry_weight": ""},
    )
    planned.refresh_from_db()
    for typed in ("8 l water", "20 ml red", f"20 ml jug {jug.code}", "5 ml mauve", "turned them"):
        keep(planned, typed, who)

    with django_assert_max_num_queries(12):
        client.get(reverse("pot", args=[planned.code]))


def test_a_hand_painted_pour_says_so_and_goes_to_its_section(pot, evening, who):
    (entry,) = keep(pot, "30 ml jug evening on section a", who)

    assert (entry.kind, entry.mix, entry.section.lower()) == ("mix", evening, "a")
    assert "on section" in entry_words(entry)
