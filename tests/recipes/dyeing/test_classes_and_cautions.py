"""Classes of dye, how dye and fibre decide the process together, and what to mind."""

from __future__ import annotations

import pytest

from recipes.dyeing.cautions import Topic, cautions
from recipes.dyeing.classes import CLASSES, DEFAULT_CLASS, process_for


@pytest.mark.parametrize(
    ("dye_class", "low", "high"),
    [
        # Broadbent, Table 13.1, p. 242, and p. 268; note on metal-complex dyes.
        ("levelling", 200, 400),
        ("fast_acid", 400, 600),
        ("milling", 500, 700),
        ("super_milling", 600, 700),
        ("premetallised_1_2", 400, 700),
        ("mixed_1_2_reactive", 450, 500),
    ],
)
def test_a_class_has_its_published_ph(dye_class, low, high):
    found = CLASSES[dye_class]

    assert (found.ph_from_hundredths, found.ph_to_hundredths) == (low, high)


def test_an_unknown_acid_dye_has_no_ph_of_its_own():
    assert DEFAULT_CLASS == "acid_unknown"
    assert CLASSES[DEFAULT_CLASS].ph_from_hundredths is None


@pytest.mark.parametrize(
    ("dye_class", "fibre", "process"),
    [
        # Supplier's sheet on cold reactive dyes on wool; dye maker's bulletin on cotton.
        ("cold_reactive", "wool", "acid"),
        ("cold_reactive", "silk", "acid"),
        ("cold_reactive", "cotton", "alkali"),
        ("other_reactive", "linen", "alkali"),
        ("levelling", "wool", "acid"),
        ("milling", "nylon", "acid"),
        ("direct", "cotton", "salt"),
        ("levelling", "cotton", "unknown"),
        ("other", "wool", "unknown"),
        ("milling", "polyester", "unknown"),
    ],
)
def test_dye_and_fibre_decide_the_process_together(dye_class, fibre, process):
    found = process_for(dye_class, [fibre])

    assert found.kind == process
    assert found.sentence.endswith(".")


def test_every_set_of_cautions_ends_with_who_decides():
    for dye_class in CLASSES:
        found = cautions([dye_class])

        assert found[-1].topic is Topic.WHO_DECIDES
        assert "safety data sheet" in found[-1].sentence
        assert {Topic.HEAT, Topic.VESSELS, Topic.WASTE_WATER} <= {each.topic for each in found}
        assert all(each.sentence.endswith(".") and str(each.source) for each in found)


def test_reactive_dyes_carry_the_sensitiser_statement_first():
    # Regulation (EC) No 1272/2008, Annex I, Table 3.4.7.
    for dye_class in ("cold_reactive", "other_reactive", "mixed_1_2_reactive"):
        assert "H334" in cautions([dye_class])[0].sentence
    assert not any("H334" in each.sentence for each in cautions(["levelling"]))


def test_premetallised_dyes_name_their_metal():
    # Broadbent p. 266; supplier's note on premetallised dyes.
    for dye_class in ("premetallised_1_2", "mixed_1_2_reactive"):
        assert any("chromium" in each.sentence for each in cautions([dye_class]))
    assert not any("chromium" in each.sentence for each in cautions(["milling"]))


def test_acid_and_alkali_are_cautioned_where_they_are_used():
    topics = {each.topic for each in cautions(["cold_reactive"], ["alkali", "salt"])}
    assert Topic.ALKALI in topics
    assert Topic.ACID not in topics
    assert Topic.ACID in {each.topic for each in cautions(["cold_reactive"], ["acid"])}
    assert Topic.ACID in {each.topic for each in cautions(["levelling"])}


def test_ready_stock_needs_no_word_on_weighing_powder():
    with_powder = cautions(["levelling"])
    without = cautions(["levelling"], powder=False)

    assert any("weighed and mixed" in each.sentence for each in with_powder)
    assert not any("weighed and mixed" in each.sentence for each in without)


def test_a_caution_from_memory_says_so():
    scald = next(each for each in cautions(["levelling"]) if each.topic is Topic.HEAT)

    assert "from memory" in str(scald.source)


def test_unknown_classes_still_get_the_common_cautions():
    assert cautions(["no such class"])[-1].topic is Topic.WHO_DECIDES


@pytest.mark.parametrize(
    ("dye_class", "fibre", "topic", "not_topic"),
    [
        # Supplier's sheet on cold reactive dyes on wool: acid, not soda ash; dye maker's bulletin on cotton: soda ash.
        ("cold_reactive", "wool", Topic.ACID, Topic.ALKALI),
        ("cold_reactive", "cotton", Topic.ALKALI, Topic.ACID),
        ("other_reactive", "linen", Topic.ALKALI, Topic.ACID),
        ("milling", "wool", Topic.ACID, Topic.ALKALI),
    ],
)
def test_the_fibre_decides_with_the_dye_what_to_mind(dye_class, fibre, topic, not_topic):
    topics = {each.topic for each in cautions([dye_class], fibres=[fibre])}

    assert topic in topics
    assert not_topic not in topics


def test_a_salt_that_is_in_does_not_hide_the_acid_that_is_to_come():
    assert Topic.ACID in {each.topic for each in cautions(["milling"], ["salt"], fibres=["wool"])}
    assert Topic.ACID not in {each.topic for each in cautions(["milling"], ["acid_donor"], fibres=["wool"])}
