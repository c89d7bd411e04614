"""What is usual, against the published rows; each number has its source beside it."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes.dyeing import doses
from recipes.dyeing.doses import WITH_ACID, WITH_ALKALI, Dose, Says, doses_on_protein
from recipes.dyeing.fibres import FIBRES
from recipes.dyeing.scaling import Basis, Unit
from recipes.dyeing.substances import SUBSTANCES, serves_as, substance_of
from recipes.dyeing.units import to_milligrams
from recipes.dyeing.usual import Load, Own, Usual, UsualDose, UsualThing, lacks, usual_for
from recipes.models import Dye
from tests.recipes.dyeing.near import near

WOOL, SOCK, SILK, COTTON = (
    (("wool", 1000),),
    (("wool", 750), ("nylon", 250)),
    (("silk", 1000),),
    (("cotton", 1000),),
)
VINEGAR = Own(1, "Vinegar", "acetic", True, Fraction(5))
POUND = to_milligrams(1, "lb")
ALL_DOSES = [dose for table in (WITH_ACID, WITH_ALKALI) for rows in table.values() for dose in rows] + [
    each for each in vars(doses).values() if isinstance(each, Dose)
]


def usual(dye_class: str, fibres, depth: str | None = None, **facts) -> Usual:
    """What is usual for one dye on one kind of fibre."""
    found = usual_for(
        dyes=[("Rust", dye_class, None if depth is None else Fraction(depth))], fibres=fibres, **facts
    )
    assert len(found) == 1
    return found[0]


def thing(found: Usual, slug: str) -> UsualThing:
    return next(each for each in found.things if each.slug == slug)


def amounts(dose: UsualDose) -> list[Fraction]:
    """Grams or millilitres."""
    return [here.figure.value / 1000 for here in dose.amounts]


# --- Each published amount, on its own basis --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("dye_class", "fibres", "depth", "slug", "number", "grams"),
    [
        # Facts 3.2, dye maker's page: citric 1 / 1.5 / 2, Glauber's 2 / 5 / 10, leveller 1 / 1.5 / 2 % for light, medium
        # and strong; check row 22 is medium on 400 g.
        pytest.param("acid_unknown", WOOL, "0.5", "citric", 0, ["4"], id="citric, light"),
        pytest.param("acid_unknown", WOOL, "1", "citric", 0, ["6"], id="row 22: citric, medium"),
        pytest.param("acid_unknown", WOOL, "1", "glauber_crystals", 0, ["20"], id="row 22: Glauber's"),
        pytest.param("acid_unknown", WOOL, "1", "leveller", 0, ["6"], id="row 22: leveller"),
        pytest.param("acid_unknown", WOOL, "3", "glauber_crystals", 0, ["40"], id="Glauber's, strong"),
        pytest.param("acid_unknown", WOOL, "0.75", "citric", 0, ["4", "6"], id="between light and medium"),
        pytest.param("acid_unknown", WOOL, None, "citric", 0, ["4", "8"], id="no depth: the whole span"),
        # Facts 3.2, textbook pp. 244-246: 1 to 3 % acetic acid, 5 to 10 % Glauber's salt.
        pytest.param("fast_acid", WOOL, "1", "acetic", 0, ["4", "12"], id="fast acid, acetic"),
        pytest.param("levelling", WOOL, "1", "glauber_crystals", 0, ["20", "40"], id="levelling, Glauber's"),
        # An artist's method: 50 % common salt; a dyer's example: 20 g on 100 g.
        pytest.param("levelling", WOOL, "1", "common_salt", 0, ["200"], id="an artist's salt"),
        pytest.param("levelling", WOOL, "1", "common_salt", 1, ["80"], id="a dyer's salt"),
        # Dye maker's bulletins on milling dyes and on wool with nylon.
        pytest.param("milling", WOOL, "1", "ammonium_sulphate", 1, ["16"], id="ammonium sulphate, 4 %"),
        pytest.param("milling", WOOL, "1", "glauber_crystals", 1, ["20"], id="a maker's 5 % Glauber's"),
        pytest.param("premetallised_1_2", SOCK, "1", "leveller", 0, ["6"], id="leveller on a blend"),
        pytest.param("premetallised_1_2", SOCK, "1", "resist", 0, ["4"], id="resist on a blend"),
        pytest.param("premetallised_1_2", SOCK, "1", "fixing", 0, ["4", "8"], id="fixing from 20 % nylon"),
        # Notes on 1:2 and reactive dyes: 10 % Glauber's for pale, none for medium to dark; leveller 1 %.
        pytest.param("mixed_1_2_reactive", WOOL, "0.2", "glauber_crystals", 0, ["40"], id="mixed, pale"),
        pytest.param("mixed_1_2_reactive", WOOL, "2", "glauber_crystals", 0, ["0"], id="mixed, dark"),
        pytest.param("mixed_1_2_reactive", WOOL, "2", "leveller", 0, ["4"], id="mixed, leveller"),
        # Supplier's sheet on cold reactive dyes on wool: 25 g Glauber's on 500 g.
        pytest.param("cold_reactive", WOOL, "2", "glauber_crystals", 0, ["20"], id="cold on wool, Glauber's"),
        # Training notes on nylon.
        pytest.param("milling", (("nylon", 1000),), "1", "leveller", 0, ["1.2", "2"], id="nylon, leveller"),
        pytest.param("milling", (("nylon", 1000),), "1", "fixing", 0, ["8", "16"], id="nylon, fixing"),
    ],
)
def test_what_goes_by_the_fibre_goes_by_400_g_of_it_whatever_the_bath(
    dye_class, fibres, depth, slug, number, grams
):
    for litres in (4, 40):
        found = usual(dye_class, fibres, depth, load=Load(400_000, litres * 1_000_000))
        dose = thing(found, slug).doses[number]

        assert dose.dose.basis is Basis.FIBRE
        assert amounts(dose) == [Fraction(each) for each in grams]


@pytest.mark.parametrize(
    ("dye_class", "fibres", "depth", "slug", "number", "grams"),
    [
        # Dye maker's bulletin on reactive dyes on cotton; check row 28 gives the ounces, 7.48915 g/L each.
        pytest.param("other_reactive", COTTON, "0.50", "exhausting_salt", 0, ["37.446"], id="5 oz/gal"),
        pytest.param("other_reactive", COTTON, "0.51", "exhausting_salt", 0, ["52.42"], id="7 oz/gal"),
        pytest.param("other_reactive", COTTON, "1.00", "exhausting_salt", 0, ["52.42"], id="7 oz/gal again"),
        pytest.param("other_reactive", COTTON, "1.01", "exhausting_salt", 0, ["67.40"], id="9 oz/gal"),
        pytest.param("other_reactive", COTTON, "4.00", "exhausting_salt", 0, ["89.87"], id="12 oz/gal"),
        pytest.param("other_reactive", COTTON, "4.01", "exhausting_salt", 0, ["97.36"], id="13 oz/gal"),
        # The same sheet prints 6 and 8 g/L of soda ash and 1.5 and 2.0 of caustic for 0.8, 1.1, 0.20 and 0.27 oz/gal.
        pytest.param("other_reactive", COTTON, "2.00", "soda_ash", 0, ["5.99"], id="soda ash to 2 %"),
        pytest.param("other_reactive", COTTON, "2.01", "soda_ash", 0, ["8.24"], id="soda ash above 2 %"),
        pytest.param("other_reactive", COTTON, "2.00", "caustic", 0, ["1.50"], id="caustic to 2 %"),
        pytest.param("other_reactive", COTTON, "2.01", "caustic", 0, ["2.02"], id="caustic above 2 %"),
        # Journal of Materials 2016, Table 2: 20 and 5, 50 and 15, 70 and 20 g/L at 0.5, 1.5 and 4 %.
        pytest.param("other_reactive", COTTON, "0.5", "glauber_crystals", 0, ["20"], id="journal, 0.5 %"),
        pytest.param("other_reactive", COTTON, "1.5", "glauber_crystals", 0, ["50"], id="journal, 1.5 %"),
        pytest.param("other_reactive", COTTON, "4", "soda_ash", 1, ["20"], id="journal, 4 %"),
        pytest.param("other_reactive", COTTON, "1", "soda_ash", 1, ["5", "15"], id="journal, between"),
        # From memory: Broadbent ch. 16, Shore.
        pytest.param("other_reactive", COTTON, "1", "exhausting_salt", 1, ["30", "80"], id="vinyl sulphone"),
        # One ounce in a US gallon; facts section 4: 7.49 g/L.
        pytest.param("cold_reactive", COTTON, "2", "soda_ash", 0, ["7.489"], id="soda ash by the gallon"),
        # A chart by the pound in 2.5 US gallons; facts section 4: 47.9 to 95.9 g/L.
        pytest.param("cold_reactive", COTTON, "2", "exhausting_salt", 0, ["47.93", "95.86"], id="by chart"),
        # From memory: makers' manuals.
        pytest.param("mixed_1_2_reactive", WOOL, "1", "sodium_acetate", 0, ["1"], id="acetate"),
        # Supplier's sheet: 2 ml in 10 L.
        pytest.param("cold_reactive", WOOL, "1", "wetting", 0, ["0.2"], id="wetting"),
        # Training note on nylon: 0.5 g/L.
        pytest.param(
            "premetallised_1_2", (("nylon", 1000),), "1", "phosphate", 0, ["0.5"], id="disodium phosphate"
        ),
    ],
)
def test_what_goes_by_the_litre_goes_by_one_litre_whatever_the_fibre(
    dye_class, fibres, depth, slug, number, grams
):
    for dry in (20_000, 5_000_000):
        found = usual(dye_class, fibres, depth, load=Load(dry, 1_000_000))
        dose = thing(found, slug).doses[number]

        assert dose.dose.basis is Basis.BATH
        assert all(near(here, expected, "0.005") for here, expected in zip(amounts(dose), grams, strict=True))


@pytest.mark.parametrize(
    ("dye_class", "slug", "number", "per_pound"),
    [
        # P. E. Burch: 13.6 g ammonium sulphate, 15 g citric acid, 165 ml of 5 % vinegar on a pound; check rows 17, 18, 20.
        ("milling", "ammonium_sulphate", 0, "13.6"),
        ("acid_unknown", "citric", 1, "15"),
        ("acid_unknown", "acetic", 0, "165"),
    ],
)
def test_a_dose_by_the_pound_is_itself_on_a_pound(dye_class, slug, number, per_pound):
    found = usual(dye_class, WOOL, load=Load(int(POUND), None))
    dose = thing(found, slug).doses[number]

    assert near(amounts(dose)[0], per_pound, "0.001")


# --- The studio's own acid --------------------------------------------------------------------------------------------


def test_vinegar_on_500_g_of_wool_with_a_cold_reactive_dye():
    # Check row 19: 330 ml of 5 % on 500 g, 3.3 % acid; supplier's sheet.
    found = usual("cold_reactive", WOOL, "2", load=Load(500_000, 10_000_000), own=[VINEGAR])

    assert found.process.kind == "acid"
    assert amounts(thing(found, "acetic").doses[0]) == [330]


def test_a_stronger_acid_takes_less_and_says_how():
    # Check row 21 the other way round: 112 ml of 5 % are 10 ml of 56 %; supplier's sheet.
    strong = Own(2, "Acetic acid", "acetic", True, Fraction(56))
    found = usual("cold_reactive", WOOL, "2", load=Load(500_000, None), own=[strong])
    here = thing(found, "acetic").doses[0].amounts[0]

    assert here.figure.value == Fraction(330_000 * 5, 56)
    assert here.own == strong
    assert "less water" in here.figure.working.result
    assert here.figure.working.steps[-1].result.startswith("330 ml")


def test_pure_acid_is_measured_as_the_studios_vinegar():
    # 1 to 3 % of 500 g are 5 to 15 g of acid: 100 to 300 ml of 5 %. Textbook p. 246 and the definition of strength.
    found = usual("fast_acid", WOOL, "1", load=Load(500_000, None), own=[VINEGAR])

    assert amounts(thing(found, "acetic").doses[0]) == [100, 300]


def test_an_acid_of_unknown_strength_gets_no_millilitres():
    nameless = Own(2, "Acetic acid", "acetic", True)
    dose = thing(usual("fast_acid", WOOL, "1", load=Load(500_000, None), own=[nameless]), "acetic").doses[0]

    assert all(here.own is None and here.unit is Unit.MG for here in dose.amounts)
    assert dose.wanting == "Write down the strength of Acetic acid to see its millilitres."


def test_glauber_without_its_water_is_taken_in_its_own_form_and_said():
    # Check row 50: 100 g of crystals are 44.09 g without water.
    dry = Own(3, "Glauber anhydrous", "glauber_anhydrous", False)
    found = usual("levelling", WOOL, "1", load=Load(2_000_000, None), own=[dry])
    least, _ = thing(found, "glauber_crystals").doses[0].amounts

    assert near(least.figure.value / 1000, "44.09", "0.01")
    assert "another crystal form" in least.figure.working.title


def test_acid_that_the_water_uses_up_comes_on_top_by_the_litre():
    # Facts 3.6: 200 mg/L, 40 L: 9.60 g, 192 ml of 5 % vinegar.
    found = usual(
        "fast_acid", WOOL, load=Load(2_000_000, 40_000_000), own=[VINEGAR], alkalinity_mg_per_litre=200
    )

    assert near(found.water.value / 1000, "9.60", "0.005")
    assert near(found.water_in[0].figure.value / 1000, "192", "0.05")
    assert "50.04" in found.water_in[0].figure.working.steps[-1].formula


@pytest.mark.parametrize("facts", [{}, {"alkalinity_mg_per_litre": 0}, {"alkalinity_mg_per_litre": 200}])
def test_without_the_studios_water_or_a_bath_nothing_comes_on_top(facts):
    load = Load(500_000, None if facts.get("alkalinity_mg_per_litre") else 10_000_000)

    assert usual("fast_acid", WOOL, load=load, own=[VINEGAR], **facts).water is None


def test_alkali_on_cotton_gets_no_acid_for_its_water():
    found = usual("cold_reactive", COTTON, load=Load(500_000, 10_000_000), alkalinity_mg_per_litre=200)

    assert found.process.kind == "alkali"
    assert found.water is None


# --- Rules that disagree ----------------------------------------------------------------------------------------------


def test_glauber_with_milling_dyes_is_never_and_five_percent_side_by_side():
    # Facts section 15: textbook p. 246 against a maker's bulletin.
    salt = thing(usual("milling", WOOL, "1", load=Load(400_000, 10_000_000)), "glauber_crystals")

    assert [dose.dose.how for dose in salt.doses] == [Says.NEVER, Says.TAKE]
    assert not salt.doses[0].amounts
    assert "one says none at all" in salt.disagree
    assert "follow the maker" in salt.doses[1].dose.note


def test_ammonium_sulphate_by_the_pound_and_by_the_gallon_are_not_turned_into_each_other():
    # Facts section 15 and 3.5: basis stored per auxiliary; the gallon's spoon has no weight.
    salt = thing(usual("milling", WOOL, "1", load=Load(400_000, 10_000_000)), "ammonium_sulphate")
    by_gallon = next(dose for dose in salt.doses if dose.dose.basis is Basis.BATH)

    assert by_gallon.dose.how is Says.LOOSELY
    assert not by_gallon.amounts
    assert "different things" in salt.disagree


def test_no_cup_and_no_spoon_ever_gets_a_weight():
    # Facts section 15: one cup of soda ash is published as 76 to 450 g.
    loose = [dose for dose in ALL_DOSES if dose.how is Says.LOOSELY]

    assert loose
    assert all(not dose.rates for dose in loose)
    assert all(dose.how is Says.LOOSELY or not dose.rates or "cup" not in dose.says for dose in ALL_DOSES)


def test_silk_gets_no_glauber_no_sulphuric_acid_and_at_most_85_degrees():
    # Training note on acid dyes on silk; facts 3.3.
    found = usual("levelling", SILK, "1", load=Load(200_000, 6_000_000))

    assert thing(found, "glauber_crystals").doses[-1].never
    assert not any(each.slug == "sulphuric" for each in found.things)
    assert any(said.sentence.startswith("At most 85 °C") for said in found.targets)


def test_superwash_is_held_at_90_degrees_and_near_ph_4():
    # Cookson, Hine and McPhee 1964; facts 3.3 and 3.4.
    found = usual("milling", WOOL, "1", superwash=True)
    said = " ".join(each.sentence for each in found.targets)

    assert "At most 90 °C" in said
    assert "near pH 4" in said
    assert any("help it less" in each.sentence for each in found.sayings)


@pytest.mark.parametrize(
    ("dye_class", "band"),
    [
        # Facts 3.1: textbook p. 242, Table 13.1, and p. 268.
        ("levelling", "pH 2 to 4"),
        ("fast_acid", "pH 4 to 6"),
        ("milling", "pH 5 to 7"),
        ("super_milling", "pH 6 to 7"),
        ("premetallised_1_2", "pH 4 to 7"),
        ("mixed_1_2_reactive", "pH 4.5 to 5"),
    ],
)
def test_a_class_aims_at_its_published_ph(dye_class, band):
    assert usual(dye_class, WOOL).targets[0].sentence.startswith(band)


# --- The dye and the fibre decide together ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("dye_class", "fibres", "kind"),
    [
        ("cold_reactive", WOOL, "acid"),
        ("cold_reactive", SILK, "acid"),
        ("cold_reactive", COTTON, "alkali"),
        ("other_reactive", COTTON, "alkali"),
        ("direct", COTTON, "salt"),
        ("milling", COTTON, "unknown"),
        ("direct", WOOL, "unknown"),
        ("milling", SOCK, "acid"),
        ("milling", (("polyester", 1000),), "none"),
    ],
)
def test_the_process_is_of_the_dye_and_the_fibre(dye_class, fibres, kind):
    assert usual(dye_class, fibres).process.kind == kind


def test_each_kind_of_fibre_of_a_mixed_base_is_told_by_itself():
    found = usual_for(dyes=[("Rust", "cold_reactive", None)], fibres=(("cotton", 550), ("wool", 450)))

    assert [each.process.kind for each in found] == ["alkali", "acid"]
    assert all(any("each kind of fibre" in said.sentence for said in each.sayings) for each in found)


def test_two_classes_in_one_pot_are_told_apart_and_depths_of_one_are_added():
    found = usual_for(
        dyes=[("A", "milling", Fraction(1)), ("B", "levelling", Fraction(1)), ("C", "milling", Fraction(2))],
        fibres=WOOL,
    )

    assert [(each.dye_class.slug, each.dyes) for each in found] == [
        ("milling", ("A", "C")),
        ("levelling", ("B",)),
    ]


@given(
    dye_class=st.sampled_from(Dye.Class.values),
    fibres=st.lists(st.sampled_from([fibre.slug for fibre in FIBRES]), unique=True, max_size=3),
    superwash=st.sampled_from([None, True, False]),
    depth=st.none() | st.fractions(min_value=0, max_value=20),
    dry=st.none() | st.integers(min_value=20_000, max_value=5_000_000),
    bath=st.none() | st.integers(min_value=100_000, max_value=200_000_000),
    times=st.integers(min_value=2, max_value=40),
)
def test_what_goes_by_the_fibre_follows_the_fibre_and_what_goes_by_the_bath_the_bath(
    dye_class, fibres, superwash, depth, dry, bath, times
):
    shares = tuple((slug, 1000 // len(fibres)) for slug in fibres)

    def all_of(load: Load) -> list[tuple[Basis, list[Fraction]]]:
        found = usual_for(
            dyes=[("Rust", dye_class, depth)], fibres=shares, superwash=superwash, load=load, own=[VINEGAR]
        )
        return [
            (dose.dose.basis, amounts(dose)) for each in found for one in each.things for dose in one.doses
        ]

    once = all_of(Load(dry, bath))
    more_fibre = all_of(Load(dry and dry * times, bath))
    more_bath = all_of(Load(dry, bath and bath * times))
    for (basis, here), (_, fibre), (_, water) in zip(once, more_fibre, more_bath, strict=True):
        grown = [amount * times for amount in here]
        assert fibre == (grown if basis is Basis.FIBRE else here)
        assert water == (grown if basis is Basis.BATH else here)


def test_every_dose_names_its_source_and_a_known_substance():
    for dose in ALL_DOSES:
        assert str(dose.source)
        assert dose.thing in SUBSTANCES
        assert dose.says
    assert set(WITH_ACID) | set(WITH_ALKALI) <= set(Dye.Class.values)


def test_what_is_only_from_memory_is_marked_so():
    # Facts section 4 and 3.2: the vinyl sulphone rows and the amount of acetate are from memory.
    for name in ("SALT_VINYL", "SODA_VINYL", "ACETATE_MIXED"):
        assert "from memory" in str(getattr(doses, name).source)


def test_nothing_of_the_low_confidence_cold_table_is_used():
    # Facts section 4: do not use the long-liquor table of cold dichlorotriazine dyes, 25 to 55 g/L and 2 to 10 g/L.
    soda = [dose for dose in WITH_ALKALI["cold_reactive"] if dose.thing == "soda_ash" and dose.rates]

    assert [dose.source.title for dose in soda] == ["a supplier's word on soda ash, quoted by a shop"]


def test_fixing_agent_from_a_fifth_of_nylon_on():
    # Dye maker's bulletin on milling dyes: blends with 20 % or more nylon.
    def fixes(nylon: int) -> bool:
        found = doses_on_protein("milling", (("wool", 1000 - nylon), ("nylon", nylon)))
        return any(dose.thing == "fixing" for dose in found)

    assert fixes(200)
    assert not fixes(199)


# --- Names ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "role", "slug"),
    [
        ("Vinegar", "acid", "acetic"),
        ("Acetic acid 56 %", "acid", "acetic"),
        ("Citric acid", "acid", "citric"),
        ("Ammonium sulphate", "acid_donor", "ammonium_sulphate"),
        ("Ammonium sulfate", "acid_donor", "ammonium_sulphate"),
        ("Glauber's salt", "salt", "glauber_crystals"),
        ("Glauber's salt, anhydrous", "salt", "glauber_anhydrous"),
        ("Sodium sulphate", "salt", ""),
        ("Pickling salt", "salt", "common_salt"),
        ("Soda ash", "alkali", "soda_ash"),
        ("Washing soda", "alkali", "washing_soda_crystals"),
        ("Sodium acetate", "buffer", "sodium_acetate"),
        ("Even-up", "leveller", "leveller"),
        ("Wetter", "wetting", "wetting"),
        ("Acid", "acid", ""),
    ],
)
def test_an_auxiliary_is_told_by_its_name_and_role_or_not_at_all(name, role, slug):
    assert substance_of(name, role) == slug


def test_either_salt_serves_on_cotton_but_not_one_for_the_other_on_wool():
    assert serves_as("common_salt", "exhausting_salt")
    assert serves_as("glauber_crystals", "exhausting_salt")
    assert not serves_as("common_salt", "glauber_crystals")


@pytest.mark.parametrize(
    ("processes", "roles", "lacking"),
    [
        (["acid"], ["salt"], "acid"),
        (["acid"], ["acid_donor"], ""),
        (["alkali"], ["salt"], "alkali"),
        (["alkali"], ["alkali"], ""),
        (["unknown"], [], ""),
    ],
)
def test_what_a_recipe_lacks(processes, roles, lacking):
    assert lacks(processes, roles) == lacking


def test_the_percent_of_a_dose_is_exact():
    # 13.6 g on a pound is 3.00 % (check row 17).
    rate = doses.AMMONIUM_POUND.rates[0].least

    assert near(rate / 10_000, "3.00", "0.01")
    assert Decimal("13.6") * 1000 == rate * POUND / 1_000_000


def test_what_a_dose_goes_by_is_said_once():
    found = usual("cold_reactive", WOOL, "1", load=Load(500_000, 10_000_000), own=[VINEGAR])

    assert thing(found, "acetic").doses[0].by == "66 ml on 100 g of dry fibre"
    assert thing(found, "glauber_crystals").doses[0].by == "5 % of dry fibre"
    assert thing(found, "wetting").doses[0].by == "0.2 ml per litre of bath"
    assert not thing(usual("milling", WOOL), "glauber_crystals").doses[1].says_more


def test_a_leveller_that_the_store_keeps_by_volume_is_to_be_weighed():
    even = Own(4, "Even-up", "leveller", True)
    found = usual("acid_unknown", WOOL, "1", load=Load(400_000, None), own=[even])

    assert thing(found, "leveller").doses[0].wanting == (
        "The store keeps Even-up by volume, and this goes by weight: weigh it."
    )


def test_the_water_of_one_bath_is_told_once_however_many_classes_are_in():
    found = usual_for(
        dyes=[("A", "milling", None), ("B", "levelling", None)],
        fibres=WOOL,
        load=Load(400_000, 10_000_000),
        alkalinity_mg_per_litre=200,
    )

    assert [each.water is not None for each in found] == [True, False]
