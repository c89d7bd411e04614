"""A pot becomes a way of dyeing: rules by kind, exact amounts, what is missing, and that it never changes."""

from __future__ import annotations

import datetime as dt
import uuid
from fractions import Fraction

import pytest
from django.db import IntegrityError, connection, transaction
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from dyehouse.ledger.guard import arm
from recipes.dyeing.scaling import Basis
from recipes.lots.filling_in import AnsweredAlready, NotAnAnswer, answer_missing
from recipes.lots.learning import NothingToLearn, learn_way, propose_way
from recipes.lots.log import add_entry, keep_line, strike
from recipes.lots.models import LogEntry, Pot, WayOrigin
from recipes.models import Auxiliary, Rule, WayOfDyeing
from recipes.ways import PotSize, amount_in, rules_of
from tests import factories

pytestmark = pytest.mark.django_db
NOON = dt.datetime(2026, 3, 4, 12, 0, tzinfo=dt.UTC)


@pytest.fixture
def who():
    return factories.OwnerFactory()


@pytest.fixture
def pot(who) -> Pot:
    """Five pieces of 100 g, loaded at noon, with Red at 1 %, vinegar and salt at hand."""
    factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=who), who=who)
    factories.auxiliary("Vinegar")
    factories.auxiliary(
        "Glauber's salt", role=Auxiliary.Role.SALT, form="powder", strength_hundredths_percent=None
    )
    factories.auxiliary("Wetting agent", role=Auxiliary.Role.WETTING, strength_hundredths_percent=None)
    return factories.loaded_pot(who=who, happened_at=NOON)


def tell(pot: Pot, who, *lines: str) -> None:
    for minute, line in enumerate(lines):
        keep_line(
            pot=pot, key=uuid.uuid4(), typed=line, who=who, now=NOON + dt.timedelta(minutes=5 * minute + 1)
        )


def by_name(pot: Pot, **chosen) -> dict:
    return {rule.name: rule for rule in propose_way(pot, **chosen).rules}


def missing(pot: Pot) -> list[str]:
    return [each.slug for each in propose_way(Pot.objects.get(pk=pot.pk)).missing]


def test_each_addition_is_proposed_by_its_kind(pot, who):
    # Facts of dye chemistry, section 5: dye, salt on wool and acid by the fibre, wetting agents by the litre.
    tell(pot, who, "12 l water", "50 ml red", "30 ml vinegar", "25 g Glauber's salt", "6 ml wetting agent")

    bases = {name: rule.basis for name, rule in by_name(pot).items()}

    assert bases == {
        "Water": "fibre",
        "Red": "fibre",
        "Vinegar": "fibre",
        "Glauber's salt": "fibre",
        "Wetting agent": "bath",
    }


def test_amounts_are_shown_for_the_pot_for_ten_pieces_and_for_100_g(pot, who):
    tell(pot, who, "12 l water", "50 ml red")

    red = by_name(pot)["Red"].amounts

    assert red.in_pot == "50 ml of 1 % (0.5 g)"
    assert red.for_ten == "100 ml of 1 % (1 g)"
    assert red.for_100_g == "10 ml of 1 % (0.1 g)"
    assert red.working is not None


def test_another_basis_shows_the_old_amounts_beside_the_new(pot, who):
    tell(pot, who, "12 l water", "50 ml red", "30 ml vinegar")
    entry = by_name(pot)["Vinegar"].entry

    changed = by_name(pot, chosen={entry.key: "pot"})["Vinegar"]

    assert changed.changed
    assert changed.before.for_ten == "60 ml"
    assert changed.amounts.for_ten == "30 ml in each pot"
    assert changed.amounts.in_pot == changed.before.in_pot == "30 ml"


def test_acid_that_a_ph_reading_follows_goes_to_that_reading_with_what_it_took_as_a_guide(pot, who):
    tell(pot, who, "12 l water", "50 ml red", "30 ml vinegar", "pH 4.5")

    vinegar = by_name(pot)["Vinegar"]

    assert vinegar.basis == "reading"
    assert vinegar.draft.ph_hundredths == 450
    assert amount_in(vinegar.draft, PotSize(dry_milligrams=1_000_000)).value == 60_000


def test_a_spoon_stays_as_typed_and_the_same_in_every_pot(pot, who):
    tell(pot, who, "12 l water", "1 tsp Glauber's salt")

    salt = by_name(pot)["Glauber's salt"]

    assert (salt.basis, salt.draft.thousandths) == ("pot", None)
    assert "tsp" in salt.draft.as_typed
    assert [choice for choice, _ in salt.choices] == ["pot"]


def test_without_water_a_basis_by_the_litre_is_not_proposed(pot, who):
    tell(pot, who, "6 ml wetting agent")

    agent = by_name(pot)["Wetting agent"]

    assert agent.basis == "pot"
    assert "litres of this bath are not known" in agent.proposal.why


def test_a_basis_that_cannot_be_used_says_so_and_falls_back(pot, who):
    tell(pot, who, "6 ml wetting agent")
    entry = by_name(pot)["Wetting agent"].entry

    agent = by_name(pot, chosen={entry.key: "bath"})["Wetting agent"]

    assert agent.basis == "pot"
    assert "litres of the bath are not known" in agent.problem


def test_what_is_struck_teaches_nothing(pot, who):
    tell(pot, who, "12 l water", "50 ml red", "30 ml vinegar")
    strike(entry=by_name(pot)["Vinegar"].entry, key=uuid.uuid4(), who=who)

    assert "Vinegar" not in by_name(pot)


def test_what_the_store_does_not_know_stays_in_words_as_a_note(pot, who):
    tell(pot, who, "12 l water", "50 ml red", "40 ml teal")

    way = learn_way(pot=pot, who=who)

    assert "40 ml teal" in rules_of(way)[2].text
    assert rules_of(way)[2].kind == "note"
    assert "names" in missing(pot)


def test_readings_become_steps_with_their_minute(pot, who):
    tell(pot, who, "12 l water", "heat on", "60 C", "lovely swirl on the left", "82 C", "heat off")

    rules = rules_of_learned(pot, who)

    assert [(rule.kind, rule.minute) for rule in rules] == [
        ("water", 0),
        ("heat", 5),
        ("temperature", 10),
        ("note", 15),
        ("temperature", 20),
        ("heat", 25),
        ("dye", 30),
    ]


def rules_of_learned(pot: Pot, who) -> list[Rule]:
    keep_line(pot=pot, key=uuid.uuid4(), typed="50 ml red", who=who, now=NOON + dt.timedelta(minutes=31))
    return rules_of(learn_way(pot=pot, who=who))


def test_the_first_way_departs_from_nothing_and_remembers_its_pot(pot, who):
    tell(pot, who, "12 l water", "50 ml red")

    way = learn_way(pot=pot, who=who)

    assert (way.number, way.departs_from, way.made_by) == (1, None, who)
    assert (way.dry_milligrams, way.pieces, way.bath_microlitres) == (500_000, 5, 12_050_000)
    assert WayOrigin.objects.get(way=way).pot == pot


def test_learning_the_same_again_gives_the_first_and_a_later_one_departs(pot, who):
    tell(pot, who, "12 l water", "50 ml red")
    first = learn_way(pot=pot, who=who)
    assert learn_way(pot=pot, who=who) == first
    tell(pot, who, "5 ml red")

    later = learn_way(pot=pot, who=who)

    assert (later.number, later.departs_from) == (2, first)
    assert later.why == f"As it was done in pot {pot.code}"


def test_a_pot_without_an_addition_teaches_no_way(pot, who):
    tell(pot, who, "82 C")

    with pytest.raises(NothingToLearn, match="Nothing went into this pot yet"):
        learn_way(pot=pot, who=who)


def test_a_kept_way_cannot_be_changed_in_the_database(pot, who):
    arm(connection)
    tell(pot, who, "12 l water", "50 ml red")
    way = learn_way(pot=pot, who=who)

    for change in (
        lambda: WayOfDyeing.objects.filter(pk=way.pk).update(why="else"),
        lambda: Rule.objects.filter(way=way).update(thousandths=1),
        lambda: Rule.objects.filter(way=way).delete(),
        lambda: WayOrigin.objects.filter(way=way).delete(),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            change()


def test_everything_missing_is_named(pot, who):
    Pot.objects.filter(pk=pot.pk).update(vessel=None)

    assert missing(pot) == [
        "mill-lot", "dry-weight", "pre-soak", "vessel", "water", "order", "acid", "heat", "lay", "cleared",
        "cooling", "photo", "verdict",
    ]  # fmt: skip


def test_each_answer_is_kept_with_who_said_it_and_is_missing_no_more(pot, who):
    Pot.objects.filter(pk=pot.pk).update(vessel=None)
    tell(pot, who, "50 ml red")
    answers = {
        "mill-lot": {"text": "2231-B"},
        "dry-weight": {"milligrams": 498_000},
        "pre-soak": {"minutes": 30},
        "vessel": {"vessel": factories.VesselFactory()},
        "water": {"microlitres": 12_000_000},
        "acid": {"text": "30 ml vinegar at 12:20"},
        "heat": {"centi_celsius": 8500, "clock": "13:00", "minutes": 30},
        "lay": {"text": "Loose, covered by the bath"},
        "cooling": {"text": "In the pot, overnight"},
    }

    for slug, said in answers.items():
        answer_missing(pot=pot, slug=slug, key=uuid.uuid4(), who=who, **said)

    # One reading twice is a hold; how the bath was heated is asked after it.
    assert missing(pot) == ["heating", "cleared", "photo", "verdict"]
    fresh = Pot.objects.get(pk=pot.pk)
    assert (fresh.presoak_minutes, fresh.lay, fresh.cooling) == (
        30,
        "Loose, covered by the bath",
        "In the pot, overnight",
    )
    assert fresh.loads.get().dry_milligrams == 498_000
    assert LogEntry.objects.filter(pot=pot, name="mill lot", text="2231-B", who=who).count() == 1
    kinds = [rule.kind for rule in rules_of(learn_way(pot=fresh, who=who))]
    # Their order is by the clock, and the pot was loaded at whatever hour this runs.
    assert sorted(kinds) == ["auxiliary", "dye", "temperature", "temperature", "water"]


def test_an_answer_fills_only_what_is_empty_and_is_harmless_when_sent_twice(pot, who):
    key = uuid.uuid4()
    answer_missing(pot=pot, slug="pre-soak", key=key, who=who, minutes=30)
    answer_missing(pot=pot, slug="pre-soak", key=key, who=who, minutes=45)

    with pytest.raises(AnsweredAlready, match="30 min"):
        answer_missing(pot=pot, slug="pre-soak", key=uuid.uuid4(), who=who, minutes=45)
    with pytest.raises(NotAnAnswer):
        answer_missing(pot=pot, slug="lay", key=uuid.uuid4(), who=who, text="  ")

    assert Pot.objects.get(pk=pot.pk).presoak_minutes == 30


def test_an_answer_that_is_struck_is_missing_again(pot, who):
    answer_missing(pot=pot, slug="mill-lot", key=uuid.uuid4(), who=who, text="2231-B")
    assert "mill-lot" not in missing(pot)

    strike(entry=LogEntry.objects.get(pot=pot, name="mill lot"), key=uuid.uuid4(), who=who)

    assert "mill-lot" in missing(pot)


def test_no_acid_is_an_answer_too(pot, who):
    tell(pot, who, "50 ml red")
    answer_missing(pot=pot, slug="acid", key=uuid.uuid4(), who=who, text="No acid was used")

    assert "acid" not in missing(pot)
    assert rules_of(learn_way(pot=pot, who=who))[-1].text == "Acid: No acid was used"


class TheWayGivesBackThePotsOwnAmounts(TestCase):
    @settings(max_examples=15, deadline=None)
    @given(
        dry=st.integers(1_000, 3_000_000),
        pieces=st.integers(1, 12),
        bath=st.integers(100_000, 60_000_000),
        microlitres=st.integers(1, 500_000),
        strength=st.integers(1, 100_000),
        basis=st.sampled_from(["fibre", "bath", "piece", "pot"]),
    )
    def test_within_half_a_thousandth_of_a_unit_a_kilogram(
        self, dry, pieces, bath, microlitres, strength, basis
    ):
        who = factories.OwnerFactory()
        pot = factories.loaded_pot(who=who, pieces=pieces, happened_at=NOON)
        pot.loads.update(dry_milligrams=dry)
        dye = factories.dye()
        add_entry(pot=pot, key=uuid.uuid4(), kind="water", who=who, happened_at=NOON, microlitres=bath)
        entry = add_entry(
            pot=pot,
            key=uuid.uuid4(),
            kind="stock",
            who=who,
            happened_at=NOON,
            dye=dye,
            microlitres=microlitres,
            strength_mg_per_litre=strength,
        )

        way = learn_way(pot=pot, who=who, rules={entry.key: basis})

        rule = rules_of(way)[1]
        size = PotSize(way.dry_milligrams, way.bath_microlitres, way.pieces)
        went_in = Fraction(microlitres * strength, 1_000_000)
        measure = {
            Basis.FIBRE: Fraction(way.dry_milligrams, 1_000_000),
            Basis.BATH: Fraction(way.bath_microlitres, 1_000_000),
            Basis.PIECE: Fraction(way.pieces),
            Basis.POT: Fraction(1),
        }[Basis(basis)]
        assert rule.basis == basis
        assert abs(amount_in(rule, size).value - went_in) <= Fraction(1, 2000) * measure
