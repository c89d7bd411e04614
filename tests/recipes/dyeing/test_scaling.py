"""What scales with what: the published worked scaling, and the properties of each basis."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes.dyeing.basis_proposal import propose_basis
from recipes.dyeing.scaling import Basis, BasisNeeds, RuleAmount, Unit, rule_from_amount, scale

# Worked scaling of a 50 g sample at 30:1 to 2,000 g at 20:1; source: arithmetic on the published bases.
SAMPLE = {"dry_milligrams": 50_000, "bath_microlitres": 1_500_000, "pieces": 1}
LOT = {"dry_milligrams": 2_000_000, "bath_microlitres": 40_000_000, "pieces": 20}

amounts = st.integers(min_value=1, max_value=10**9)
dry_weights = st.integers(min_value=20_000, max_value=5_000_000)
baths = st.integers(min_value=100_000, max_value=100_000_000)
counts = st.integers(min_value=1, max_value=200)
kinds = st.sampled_from([Basis.FIBRE, Basis.BATH, Basis.PIECE, Basis.POT])


@pytest.mark.parametrize(
    ("sample_milligrams", "basis", "lot_milligrams"),
    [
        pytest.param(750, Basis.FIBRE, 30_000, id="row 24: dye"),
        pytest.param(1_500, Basis.BATH, 40_000, id="row 25: sodium acetate"),
        pytest.param(1_000, Basis.FIBRE, 40_000, id="citric acid"),
        pytest.param(2_500, Basis.FIBRE, 100_000, id="Glauber's salt on wool"),
        pytest.param(500, Basis.FIBRE, 20_000, id="leveller"),
    ],
)
def test_a_sample_becomes_a_lot(sample_milligrams, basis, lot_milligrams):
    rule = rule_from_amount(sample_milligrams, basis=basis, **SAMPLE).value

    assert scale(rule, **LOT).value == lot_milligrams


def test_the_worked_scaling_of_a_whole_sample_is_exact():
    # Facts section 5: 50 g at 30:1 with dye 1.5 %, citric acid 2 %, Glauber's salt 5 %, leveller 1 % and acetate 1 g/L is
    # 0.75, 1, 2.5, 0.5 and 1.5 g; 2,000 g at 20:1 is 30, 40, 100, 20 and 40 g.
    shares = [RuleAmount.share(Decimal(each)) for each in ("1.5", "2", "5", "1")]
    rules = [*shares, RuleAmount(Basis.BATH, Unit.MG, Fraction(1000))]

    assert [scale(rule, **SAMPLE).value for rule in rules] == [750, 1_000, 2_500, 500, 1_500]
    assert [scale(rule, **LOT).value for rule in rules] == [30_000, 40_000, 100_000, 20_000, 40_000]
    # Water goes with the bath, 26.67 times; what goes by the fibre 40 times.
    assert Fraction(LOT["bath_microlitres"], SAMPLE["bath_microlitres"]) == Fraction(80, 3)
    assert Fraction(LOT["dry_milligrams"], SAMPLE["dry_milligrams"]) == 40


def test_multiplying_everything_alike_would_be_wrong():
    # Forty times the acetate is half too much; 26.67 times the dye is a third too little.
    acetate = scale(rule_from_amount(1_500, basis=Basis.BATH, **SAMPLE).value, **LOT).value
    dye = scale(rule_from_amount(750, basis=Basis.FIBRE, **SAMPLE).value, **LOT).value

    assert Fraction(1_500 * 40) / acetate == Fraction(3, 2)
    assert Fraction(750) * Fraction(40, Fraction(3, 2)) / dye == Fraction(2, 3)


@pytest.mark.parametrize(
    ("kind", "role", "dye_class", "fibre", "basis"),
    [
        # Dye makers' pages; Broadbent pp. 244-246; dye maker's bulletins on wool and on cotton.
        ("dye", "", "levelling", "wool", Basis.FIBRE),
        ("dye", "", "cold_reactive", "cotton", Basis.FIBRE),
        ("auxiliary", "acid", "levelling", "wool", Basis.FIBRE),
        ("auxiliary", "acid_donor", "milling", "wool", Basis.FIBRE),
        ("auxiliary", "salt", "levelling", "wool", Basis.FIBRE),
        ("auxiliary", "salt", "cold_reactive", "wool", Basis.FIBRE),
        ("auxiliary", "salt", "cold_reactive", "cotton", Basis.BATH),
        ("auxiliary", "salt", "direct", "viscose", Basis.BATH),
        ("auxiliary", "alkali", "cold_reactive", "linen", Basis.BATH),
        ("auxiliary", "leveller", "milling", "wool", Basis.FIBRE),
        ("auxiliary", "wetting", "milling", "wool", Basis.BATH),
        ("auxiliary", "buffer", "mixed_1_2_reactive", "wool", Basis.BATH),
        ("water", "", "milling", "wool", Basis.FIBRE),
        ("temperature", "", "milling", "wool", Basis.READING),
        ("ph", "", "milling", "wool", Basis.READING),
    ],
)
def test_each_kind_of_addition_has_its_published_basis(kind, role, dye_class, fibre, basis):
    proposal = propose_basis(kind, role, dye_class, fibre)

    assert proposal.basis is basis
    assert proposal.why.endswith(".")


def test_the_first_fibre_of_a_blend_decides():
    assert propose_basis("auxiliary", "salt", "acid_unknown", ("wool", "cotton")).basis is Basis.FIBRE
    assert propose_basis("auxiliary", "salt", "direct", ("cotton", "wool")).basis is Basis.BATH


def test_salt_with_reactive_dye_on_an_unknown_base_is_asked_about():
    assert propose_basis("auxiliary", "salt", "cold_reactive", "").question
    assert not propose_basis("auxiliary", "salt", "levelling", "").question


def test_ammonium_sulphate_asks_which_of_its_two_published_rules_was_followed():
    # P. E. Burch gives it both by the gallon and by the pound; they part at any liquor ratio but about 21:1.
    assert "gallon" in propose_basis("auxiliary", "acid_donor", "milling", "wool").question


def test_acid_to_a_ph_follows_the_meter():
    proposal = propose_basis("auxiliary", "acid", "mixed_1_2_reactive", "wool", aims_at_reading=True)

    assert proposal.basis is Basis.READING


def test_what_nothing_is_known_of_is_scaled_by_nothing_and_asked_about():
    proposal = propose_basis("auxiliary", "other", "levelling", "wool")

    assert proposal.basis is Basis.POT
    assert proposal.question


def test_a_spoon_stays_a_spoon_in_every_pot():
    rule = RuleAmount.measured_loosely("half a teaspoon")

    assert propose_basis("auxiliary", "salt", "levelling", "wool", spoon=True).basis is Basis.POT
    assert scale(rule, **LOT) is None
    assert rule.words == "half a teaspoon per pot"
    assert rule.thousandths is None


def test_what_aims_at_a_reading_has_no_amount():
    rule = rule_from_amount(12_000, basis=Basis.READING, unit=Unit.UL, **SAMPLE).value

    assert scale(rule, **LOT) is None
    with pytest.raises(BasisNeeds):
        RuleAmount(Basis.READING, Unit.UL, Fraction(1))


@pytest.mark.parametrize(
    ("basis", "named"), [(Basis.FIBRE, "dry weight"), (Basis.BATH, "litres"), (Basis.PIECE, "count")]
)
def test_a_basis_names_what_it_needs(basis, named):
    with pytest.raises(BasisNeeds, match=named):
        rule_from_amount(1_000, basis=basis)
    with pytest.raises(BasisNeeds, match=named):
        scale(RuleAmount(basis, Unit.MG, Fraction(1)))


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        (RuleAmount.share(Decimal("1.5")), "1.5 % of dry fibre"),
        (RuleAmount.share(66, Unit.UL), "66 ml on 100 g of dry fibre"),
        (RuleAmount(Basis.BATH, Unit.MG, Fraction(1000)), "1 g per litre of bath"),
        (RuleAmount(Basis.PIECE, Unit.UL, Fraction(2000)), "2 ml per piece"),
        (RuleAmount(Basis.POT, Unit.MG, Fraction(500)), "0.5 g per pot"),
    ],
)
def test_a_rule_reads_as_a_dyer_says_it(rule, words):
    assert rule.words == words


def test_the_working_shows_the_numbers_of_this_pot():
    figure = scale(RuleAmount.share(Decimal("1.5")), dry_milligrams=500_000)

    assert figure.working.substitution == "1.5 % × 500 g"
    assert figure.working.result == "7.5 g"


@given(amount=amounts, basis=kinds, dry=dry_weights, bath=baths, pieces=counts)
def test_amount_to_rule_to_amount_loses_nothing(amount, basis, dry, bath, pieces):
    pot = {"dry_milligrams": dry, "bath_microlitres": bath, "pieces": pieces}

    assert scale(rule_from_amount(amount, basis=basis, **pot).value, **pot).value == amount


@given(
    thousandths=st.integers(min_value=0, max_value=10**15),
    basis=kinds,
    dry=dry_weights,
    bath=baths,
    pieces=counts,
)
def test_rule_to_amount_to_rule_loses_nothing(thousandths, basis, dry, bath, pieces):
    pot = {"dry_milligrams": dry, "bath_microlitres": bath, "pieces": pieces}
    rule = RuleAmount.from_thousandths(basis, Unit.MG, thousandths)
    amount = scale(rule, **pot).value

    assert rule_from_amount(amount, basis=basis, **pot).value == rule
    assert rule.thousandths == thousandths


@given(amount=amounts, basis=kinds, dry=dry_weights, bath=baths, pieces=counts)
def test_a_stored_rule_gives_the_amount_back_to_the_milligram(amount, basis, dry, bath, pieces):
    pot = {"dry_milligrams": dry, "bath_microlitres": bath, "pieces": pieces}
    stored = rule_from_amount(amount, basis=basis, **pot).value.thousandths
    back = scale(RuleAmount.from_thousandths(basis, Unit.MG, stored), **pot).value

    assert abs(back - amount) < Fraction(1, 2)


@given(rate=amounts, dry=dry_weights, bath=baths, times=st.integers(min_value=1, max_value=50))
def test_fibre_rules_follow_the_fibre_alone_and_bath_rules_the_bath_alone(rate, dry, bath, times):
    by_fibre, by_bath = (RuleAmount(basis, Unit.MG, Fraction(rate)) for basis in (Basis.FIBRE, Basis.BATH))

    once = scale(by_fibre, dry_milligrams=dry, bath_microlitres=bath).value
    assert scale(by_fibre, dry_milligrams=dry * times, bath_microlitres=bath).value == once * times
    assert scale(by_fibre, dry_milligrams=dry, bath_microlitres=bath * times).value == once
    once = scale(by_bath, dry_milligrams=dry, bath_microlitres=bath).value
    assert scale(by_bath, dry_milligrams=dry, bath_microlitres=bath * times).value == once * times
    assert scale(by_bath, dry_milligrams=dry * times, bath_microlitres=bath).value == once
