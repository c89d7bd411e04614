"""What differs from the lot to repeat: only that, worst first, with what it does."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes.dyeing.differences import differences
from recipes.dyeing.pot_facts import DyeFacts, PotFacts, Severity, Water

RED = DyeFacts("Madder red", "levelling", jar="R-7", bottle_age_days=3, bottle_strength_mg_per_litre=10_000)
THEN = PotFacts(
    base="Hearth sock",
    fibres=(("wool", 750), ("nylon", 250)),
    superwash=True,
    mill_lot="A12",
    dyes=(RED,),
    dry_milligrams=400_000,
    pieces=4,
    liquor_ratio=Decimal(30),
    bath_microlitres=12_000_000,
    vessel="Big pot",
    hob_watts=2000,
    water=Water(hardness_mg_per_litre=80, alkalinity_mg_per_litre=60, ph_hundredths=740),
    presoak_minutes=60,
    lay="one layer, no folds",
)


def today(**changes) -> list:
    return differences(THEN, replace(THEN, **changes))


def test_nothing_is_listed_when_nothing_differs():
    assert differences(THEN, THEN) == []


def test_facts_known_of_neither_are_not_listed():
    assert differences(PotFacts("Hearth sock"), PotFacts("Hearth sock")) == []


@pytest.mark.parametrize(
    ("changes", "what", "severity", "says"),
    [
        # Broadbent p. 356; Cookson, Hine and McPhee 1964.
        ({"superwash": False}, "Superwash", Severity.CHANGES, "not superwash"),
        # Note on wool and nylon blends.
        ({"fibres": (("wool", 800), ("nylon", 200))}, "Fibres", Severity.CHANGES, "nylon's affinity"),
        # Training note on acid dyes on silk.
        (
            {"fibres": (("wool", 550), ("nylon", 250), ("silk", 200))},
            "Fibres",
            Severity.CHANGES,
            "lower temperature",
        ),
        ({"fibres": (("cotton", 1000),)}, "Fibres", Severity.CHANGES, "another process"),
        ({"base": "Hearth DK"}, "Base", Severity.CHANGES, "another yarn"),
        ({"mill_lot": "B3"}, "Mill lot", Severity.SHIFTS, "Another mill lot"),
        ({"mill_lot": None}, "Mill lot", Severity.SHIFTS, "nobody can tell"),
        ({"liquor_ratio": Decimal(20)}, "Liquor ratio", Severity.SHIFTS, "does little to the depth"),
        ({"liquor_ratio": Decimal(27)}, "Liquor ratio", Severity.SMALL, "does little to the depth"),
        ({"vessel": "Pan"}, "Vessel", Severity.SMALL, "Another vessel"),
        ({"hob_watts": 3000}, "Hob", Severity.SMALL, "another rate"),
        ({"presoak_minutes": 20}, "Pre-soak", Severity.SMALL, "unevenly"),
        ({"lay": "folded in three"}, "Lay of the yarn", Severity.SHIFTS, "other places"),
        (
            {"water": Water(hardness_mg_per_litre=250)},
            "Hardness of the water",
            Severity.SMALL,
            "limits disagree",
        ),
        ({"dry_milligrams": 800_000, "pieces": 8}, "Yarn in the pot", Severity.SHIFTS, "larger load"),
        ({"dry_milligrams": 420_000}, "Dry weight of a piece", Severity.SMALL, "dry weight"),
    ],
)
def test_one_difference_is_named_with_what_it_does(changes, what, severity, says):
    (found,) = today(**changes)

    assert found.what == what
    assert found.severity is severity
    assert says in found.effect
    assert str(found.source)


def test_a_bath_on_cotton_is_warned_of_more_strongly():
    # Ozturk, Dayioglu and Shamey 2012; Encyclopaedia Britannica, 11th edition, on direct colours.
    cotton = replace(THEN, fibres=(("cotton", 1000),), superwash=None, dyes=(DyeFacts("Blue", "direct"),))
    (found,) = differences(cotton, replace(cotton, liquor_ratio=Decimal(20)))

    assert found.severity is Severity.CHANGES
    assert "hue" in found.effect


def test_more_alkaline_water_is_told_in_vinegar():
    # Mass balance: 200 mg/L in 40 L take 9.60 g of acetic acid, 192 ml of 5 % vinegar.
    old = replace(THEN, water=Water(alkalinity_mg_per_litre=0), bath_microlitres=40_000_000)
    (found,) = differences(old, replace(old, water=Water(alkalinity_mg_per_litre=200)))

    assert "192 ml of 5 % vinegar" in found.effect


def test_a_new_jar_and_a_stronger_dye():
    (jar,) = today(dyes=(replace(RED, jar="R-8"),))
    (strength,) = today(dyes=(replace(RED, jar="R-8", strength_of_type_percent=200),))

    assert jar.severity is Severity.SHIFTS
    assert strength.severity is Severity.CHANGES
    assert "Divide the dose by 2" in strength.effect


def test_another_bottle_strength_is_small_because_the_dose_is_reckoned_for_it():
    (found,) = today(dyes=(replace(RED, bottle_strength_mg_per_litre=20_000),))

    assert (found.then, found.now, found.severity) == ("1 %", "2 %", Severity.SMALL)


@pytest.mark.parametrize(
    ("dye_class", "days", "severity"),
    [
        ("cold_reactive", 6, Severity.CHANGES),
        ("levelling", 100, Severity.SHIFTS),
        ("premetallised_1_2", 60, Severity.SMALL),
        ("levelling", 60, None),
        ("cold_reactive", 4, None),
    ],
)
def test_an_old_bottle_is_named_by_the_published_life_of_its_class(dye_class, days, severity):
    fresh = replace(THEN, dyes=(replace(RED, dye_class=dye_class, bottle_age_days=1),))
    found = differences(
        fresh, replace(fresh, dyes=(replace(RED, dye_class=dye_class, bottle_age_days=days),))
    )

    assert [each.severity for each in found] == ([] if severity is None else [severity])


def test_a_bottle_as_old_as_it_was_then_is_no_difference():
    old = replace(THEN, dyes=(replace(RED, bottle_age_days=120),))

    assert differences(old, old) == []


def test_a_dye_that_is_not_there_changes_the_colour():
    found = today(dyes=(DyeFacts("Weld yellow", "levelling"),))

    assert {(each.what, each.now) for each in found} == {("Madder red", "not there"), ("Weld yellow", "used")}
    assert all(each.severity is Severity.CHANGES for each in found)


def test_the_worst_comes_first():
    found = today(vessel="Pan", superwash=False, mill_lot="B3", presoak_minutes=10, liquor_ratio=Decimal(20))

    assert [each.severity for each in found] == sorted((each.severity for each in found), reverse=True)
    assert found[0].what == "Superwash"


choices = {
    "superwash": st.sampled_from([None, True, False]),
    "mill_lot": st.sampled_from([None, "A12", "B3"]),
    "dry_milligrams": st.none() | st.integers(min_value=1, max_value=10**7),
    "pieces": st.none() | st.integers(min_value=1, max_value=50),
    "liquor_ratio": st.none() | st.decimals(min_value=1, max_value=60, places=1),
    "vessel": st.sampled_from([None, "Big pot", "Pan"]),
    "presoak_minutes": st.none() | st.integers(min_value=0, max_value=1440),
    "fibres": st.sampled_from([(), (("wool", 1000),), (("cotton", 1000),), (("silk", 500), ("wool", 500))]),
}
facts = st.builds(lambda **known: replace(THEN, **known), **choices)


@given(then=facts, now=facts)
def test_any_two_pots_can_be_compared(then, now):
    found = differences(then, now)

    assert [each.severity for each in found] == sorted((each.severity for each in found), reverse=True)
    assert all(each.then != each.now and each.effect.endswith(".") for each in found)
    assert differences(then, then) == []
