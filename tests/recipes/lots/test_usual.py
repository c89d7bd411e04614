"""What is usual in a pot, on a redye that lacks acid, and with a dye on any fibre."""

from __future__ import annotations

import re
import uuid
from fractions import Fraction

import pytest
from django.test import Client
from django.urls import reverse

from dyehouse.studio.models import Studio
from recipes.dyeing.scaling import Basis
from recipes.lots.contents import what_is_in
from recipes.lots.learning import learn_way, propose_way
from recipes.lots.log import keep_line
from recipes.lots.models import LogEntry, Pot
from recipes.lots.proposing import PotToLearnFrom, propose_rules
from recipes.lots.queries import loads_of
from recipes.lots.redye import RedyeAsk, preview_redye
from recipes.lots.usual import UsualPage, usual_in_pot
from recipes.models import Auxiliary
from tests import factories

pytestmark = pytest.mark.django_db

MOST_QUERIES = 12


@pytest.fixture(autouse=True)
def studio() -> Studio:
    return factories.studio()


@pytest.fixture
def marit():
    return factories.OwnerFactory()


@pytest.fixture
def owner(marit) -> Client:
    client = Client()
    client.force_login(marit)
    return client


@pytest.fixture
def vinegar(marit) -> Auxiliary:
    return factories.auxiliary(who=marit)


def pot_of(marit, *lines: str, dye_class: str = "acid_unknown", fibres=None, superwash=False) -> Pot:
    """500 g of wool in a pot, with a dye of a class on the bench and these lines in its log."""
    base = factories.base(fibres={"wool": 1000} if fibres is None else fibres, superwash=superwash)
    put_up = factories.put_up(base=base, pieces=5, who=marit)
    factories.bottle(jar=factories.jar(dye=factories.dye("Rust", dye_class=dye_class), who=marit), who=marit)
    pot = factories.loaded_pot(put_up=put_up, who=marit)
    for line in lines:
        keep_line(pot=pot, key=uuid.uuid4(), typed=line, who=marit)
    return pot


def usual(pot: Pot) -> UsualPage:
    return usual_in_pot(pot, loads=loads_of(pot), studio=Studio.current())


def lines_of(page: UsualPage, slug: str) -> list[list[str]]:
    """What each published amount of a substance offers as a line, dose by dose."""
    return [
        [offer.line for offer in line.offers]
        for part in page.parts
        for thing in part.things
        if thing.thing.slug == slug
        for line in thing.lines
    ]


def test_amounts_are_for_this_pot_and_its_depth_so_far(marit):
    factories.auxiliary("Citric acid", form="powder", strength_hundredths_percent=None, who=marit)
    pot = pot_of(marit, "10 l water", "500 ml rust 1 %")

    page = usual(pot)

    # 5 g on 500 g are 1 %, medium: citric acid 1.5 % of 500 g is 7.5 g; dye maker's page on quantities. On a pound 15 g,
    # which is 16.5 g on 500 g; P. E. Burch.
    assert lines_of(page, "citric") == [["7.5 g Citric acid"], ["16.5 g Citric acid"]]
    assert page.bath_microlitres == 10_500_000


def test_a_deeper_pot_takes_the_deeper_amount(marit):
    factories.auxiliary("Citric acid", form="powder", strength_hundredths_percent=None, who=marit)
    pot = pot_of(marit, "10 l water", "10 g rust")

    assert lines_of(usual(pot), "citric")[0] == ["10 g Citric acid"]


def test_what_is_in_already_is_said_and_only_the_rest_is_offered(marit, vinegar):
    pot = pot_of(marit, "10 l water", "10 g rust", "130 ml vinegar", dye_class="cold_reactive")

    (thing,) = [each for each in usual(pot).parts[0].things if each.thing.slug == "acetic"]

    # Supplier's sheet: 330 ml of 5 % vinegar on 500 g.
    assert thing.inside == "130 ml of Vinegar in so far"
    assert thing.lines[0].offers[0].words == "330 ml"
    assert thing.lines[0].offers[0].line == "200 ml Vinegar"

    keep_line(pot=pot, key=uuid.uuid4(), typed="200 ml vinegar", who=marit)
    (offer,) = next(t for t in usual(pot).parts[0].things if t.thing.slug == "acetic").lines[0].offers
    assert offer.enough
    assert not offer.line


@pytest.mark.parametrize(
    ("name", "facts"),
    [
        ("Vinegar", {}),
        ("Acetic acid 56 %", {"strength_hundredths_percent": 5600}),
        ("Vinegar, malt", {}),
        ("Citric acid", {"form": "powder", "strength_hundredths_percent": None}),
        ("Glauber's salt", {"form": "powder", "role": "salt", "strength_hundredths_percent": None}),
        ("Ammonium sulphate", {"form": "powder", "role": "acid_donor", "strength_hundredths_percent": None}),
    ],
)
@pytest.mark.parametrize("dye_class", ["acid_unknown", "fast_acid", "milling"])
def test_every_line_that_is_offered_is_read_back_as_that_amount_of_that_auxiliary(
    marit, name, facts, dye_class
):
    auxiliary = factories.auxiliary(name, who=marit, **facts)
    pot = pot_of(marit, "10 l water", "2.5 g rust", dye_class=dye_class)
    offered = [
        (offer.line, offer.words)
        for part in usual(pot).parts
        for thing in part.things
        for line in thing.lines
        for offer in line.offers
        if offer.line
    ]

    for line, words in offered:
        (entry,) = keep_line(pot=pot, key=uuid.uuid4(), typed=line, who=marit)

        assert entry.kind == LogEntry.Kind.AUXILIARY
        assert entry.auxiliary == auxiliary
        assert not entry.question
        amount = Fraction(entry.microlitres or entry.milligrams or 0, 1000)
        assert amount == Fraction(re.match(r"[\d.,]+", words)[0].replace(",", ""))
    assert offered or (name, dye_class) in {
        ("Citric acid", "milling"),
        ("Ammonium sulphate", "acid_unknown"),
        ("Ammonium sulphate", "fast_acid"),
    }


def test_the_waters_own_acid_is_only_told_where_the_water_is_known(marit, vinegar, studio):
    pot = pot_of(marit, "40 l water", "2.5 g rust")
    assert not usual(pot).parts[0].water
    assert any("alkalinity" in note for note in usual(pot).notes)

    studio.water_alkalinity_mg_per_litre = 200
    studio.save()

    # Facts 3.6: 200 mg/L in 40 L are 9.60 g of acid, 192 ml of 5 % vinegar.
    (offer,) = usual(pot).parts[0].water
    assert offer.line == "192 ml Vinegar"
    assert not any("alkalinity" in note for note in usual(pot).notes)


def test_a_pot_without_water_gets_nothing_by_the_litre_and_says_so(marit):
    pot = pot_of(marit, "2.5 g rust", dye_class="cold_reactive")

    page = usual(pot)

    assert any("litres of the bath are not written down" in note for note in page.notes)
    wetting = next(t for t in page.parts[0].things if t.thing.slug == "wetting").lines[0]
    assert not wetting.offers
    assert "litres" in wetting.usual.wanting


def test_a_base_of_unknown_fibres_is_named(marit):
    pot = pot_of(marit, "10 l water", "2.5 g rust", fibres={}, dye_class="cold_reactive")
    name = pot.loads.get().put_up.base.name

    page = usual(pot)

    assert f"The fibres of {name} are not known. Write them down on its page." in page.notes
    assert page.parts[0].usual.process.kind == "unknown"
    assert not page.parts[0].things


def test_a_pot_before_its_dye_is_told_as_for_an_acid_dye_of_unknown_class(marit):
    page = usual(pot_of(marit))

    assert page.parts[0].usual.dye_class.slug == "acid_unknown"
    assert any("No dye is in yet" in note for note in page.notes)


def test_an_amount_finer_than_the_scale_is_not_offered(marit):
    factories.auxiliary("Citric acid", form="powder", strength_hundredths_percent=None, who=marit)
    base = factories.base(fibres={"wool": 1000}, superwash=False)
    put_up = factories.put_up(base=base, grams=1, pieces=1, who=marit)
    pot = factories.loaded_pot(put_up=put_up, pieces=1, who=marit)

    (offers, _) = lines_of(usual(pot), "citric")

    # 1 % of a gram is 0.01 g, less than half a step of 0.1 g.
    assert offers[0] == ""


# --- The pages --------------------------------------------------------------------------------------------------------


def test_the_pot_opens_what_is_usual_and_a_touch_fills_its_line(owner, marit, vinegar):
    pot = pot_of(marit, "10 l water", "2.5 g rust", dye_class="cold_reactive")
    page = owner.get(reverse("pot", args=[pot.code])).content.decode()
    assert f'hx-get="{reverse("pot-usual", args=[pot.code])}"' in page

    part = owner.get(reverse("pot-usual", args=[pot.code]), headers={"HX-Request": "true"}).content.decode()

    assert "<html" not in part
    assert 'data-pot-line="330 ml Vinegar"' in part
    assert "Supplier&#x27;s sheet on cold reactive dyes on wool (read in the original)" in part
    address = re.search(r'href="([^"]+)#pot-line"', part)[1]
    filled = owner.get(address.replace("&amp;", "&")).content.decode()
    assert 'value="330 ml Vinegar"' in filled
    # Nothing is kept until the line is.
    assert not pot.entries.filter(auxiliary=vinegar).exists()


def test_a_line_in_the_address_is_text_and_nothing_else(owner, marit):
    pot = pot_of(marit)

    page = owner.get(reverse("pot", args=[pot.code]), {"line": '"><script>x</script>'}).content.decode()

    assert "<script>x" not in page


def test_rules_that_disagree_stand_side_by_side_on_the_page(owner, marit):
    pot = pot_of(marit, "10 l water", "2.5 g rust", dye_class="milling")

    page = owner.get(reverse("pot-usual", args=[pot.code])).content.decode()

    # Facts section 15.
    assert "Never with milling dyes" in page
    assert "5 % of dry fibre" in page
    assert "1 teaspoon in a US gallon of bath" in page
    assert "13.6 g on a pound of fibre" in page


@pytest.mark.parametrize(
    ("on", "sentence"),
    [
        ("wool", "takes acid and heat, not soda ash"),
        ("cotton", "salt and then soda ash, both by the litre"),
        ("wool-cotton", "each kind of fibre is told by itself"),
    ],
)
def test_a_dye_with_wool_and_with_cotton(owner, on, sentence):
    dye = factories.dye("Rust", dye_class="cold_reactive")

    page = owner.get(reverse("dye-usual", args=[dye.pk]), {"on": on}).content.decode()

    assert sentence in page


def test_a_dye_for_so_much_of_a_fibre_at_a_depth(owner):
    # Check row 22: 400 g, medium: citric 6 g, Glauber's salt 20 g, leveller 6 g.
    dye = factories.dye("Rust")
    asked = {"on": "wool", "depth": "1", "dry_weight": "400 g", "bath": "12"}

    page = owner.get(reverse("dye-usual", args=[dye.pk]), asked).content.decode()

    assert page.count("<strong>6 g</strong>") == 2
    assert "<strong>20 g</strong>" in page


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"on": "kelp"}, "Choose a fibre from the list."),
        ({"on": "wool", "depth": "deep"}, "deep"),
        ({"on": "wool", "dry_weight": "-3"}, "more than nothing"),
    ],
)
def test_what_cannot_be_read_is_said_beside_its_field(owner, asked, sentence):
    dye = factories.dye("Rust")

    answer = owner.get(reverse("dye-usual", args=[dye.pk]), asked)

    assert answer.status_code == 422
    assert sentence in answer.content.decode()


def test_a_base_of_the_studio_may_be_chosen(owner):
    base = factories.base(fibres={"silk": 1000}, superwash=None)
    dye = factories.dye("Rust", dye_class="levelling")

    page = owner.get(reverse("dye-usual", args=[dye.pk]), {"on": f"base-{base.pk}"}).content.decode()

    assert "None on silk" in page


def test_the_pages_take_few_queries(owner, marit, vinegar, django_assert_max_num_queries):
    pot = pot_of(marit, "10 l water", "2.5 g rust", "3 ml vinegar")
    for number in range(30):
        factories.auxiliary(f"Vinegar {number}", who=marit)
        keep_line(pot=pot, key=uuid.uuid4(), typed=f"{number + 1} ml vinegar", who=marit)

    for where in (
        reverse("pot-usual", args=[pot.code]),
        reverse("dye-usual", args=[factories.dye().pk]),
    ):
        with django_assert_max_num_queries(MOST_QUERIES):
            assert owner.get(where).status_code == 200


# --- A way without acid -----------------------------------------------------------------------------------------------


def redye(owner, way, **asked) -> str:
    said = {
        "pieces": 7,
        "put_up": way.base.put_ups.get().pk,
        "vessel": factories.VesselFactory().pk,
        "ratio": 30,
        **asked,
    }
    return owner.get(reverse("redye", args=[way.colourway.code]), said).content.decode()


def test_a_way_without_acid_is_told_what_is_usual_in_each_kind_of_pot(owner, marit):
    way = factories.way(who=marit, lines=("7.5 l water", "30 ml red 1%", "82 C"))

    page = redye(owner, way)

    assert "The way has no acid" in page
    # 7 pieces in pots of 4 and 3: citric acid on a pound is 15 g, 13.2 and 9.9 g on 400 and 300 g; P. E. Burch.
    assert "What is usual, pot of 4" in page
    assert "What is usual, pot of 3" in page
    assert "13.2 g Citric acid" in page
    assert "9.9 g Citric acid" in page


def test_a_way_with_acid_is_told_nothing(owner, marit):
    assert "The way has no" not in redye(owner, factories.way(who=marit))


def test_a_redye_without_acid_takes_few_queries(owner, marit, django_assert_max_num_queries):
    way = factories.way(who=marit, lines=("7.5 l water", "30 ml red 1%", "82 C"))
    said = {
        "pieces": 7,
        "put_up": way.base.put_ups.get().pk,
        "vessel": factories.VesselFactory().pk,
        "ratio": 30,
    }

    with django_assert_max_num_queries(MOST_QUERIES + 2):
        owner.get(reverse("redye", args=[way.colourway.code]), said)


# --- Acid to a pH -----------------------------------------------------------------------------------------------------


def test_acid_to_a_ph_keeps_the_amount_in_the_log_and_the_target_in_the_rule(marit, vinegar):
    # Facts section 5: acid to a pH target scales with neither; supplier's sheet on 1:2 and reactive dyes.
    pot = pot_of(marit, "10 l water", "2.5 g rust", "40 ml vinegar", "ph 4.5")
    entries = list(pot.entries.order_by("happened_at", "id"))
    contents = what_is_in(pot)
    loads = loads_of(pot)
    rules = propose_rules(
        entries, PotToLearnFrom.of(base=loads[0].put_up.base, loads=loads, contents=contents)
    )

    acid = next(rule.draft for rule in rules if rule.draft.auxiliary == vinegar)

    assert next(entry for entry in entries if entry.auxiliary).microlitres == 40_000
    assert acid.basis == Basis.READING
    assert acid.ph_hundredths == 450


def test_acid_to_a_ph_is_planned_as_a_guide_that_the_reading_ends(marit, vinegar):
    pot = pot_of(marit, "10 l water", "2.5 g rust", "40 ml vinegar", "ph 4.5", "82 C")
    lot = factories.lot_out(pot=pot, who=marit)
    way = learn_way(pot=lot.pots.get(), who=marit)
    ask = RedyeAsk(way, way.base.put_ups.get(), None, 5, 100_000, factories.VesselFactory(), 200)
    step = next(
        each
        for each in preview_redye(ask).pots[0].steps
        if each.rule is not None and each.rule.auxiliary == vinegar
    )

    assert step.is_guide
    assert step.rule.ph_hundredths == 450


# --- The dye and the fibre decide what is lacking ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("dye_class", "fibres", "lacks"),
    [
        ("cold_reactive", {"wool": 1000}, True),
        ("cold_reactive", {"cotton": 1000}, False),
        ("cold_reactive", {}, False),
        ("milling", {"wool": 1000}, True),
    ],
)
def test_a_pot_lacks_acid_by_its_dye_and_its_fibre(owner, marit, dye_class, fibres, lacks):
    pot = pot_of(marit, "10 l water", "2.5 g rust", dye_class=dye_class, fibres=fibres)

    page = owner.get(reverse("pot", args=[pot.code])).content.decode()
    missing = {each.slug for each in propose_way(pot).missing}

    assert ("No acid written down yet" in page) is lacks
    assert ("acid" in missing) is lacks


def test_cautions_of_a_pot_follow_its_dye_and_its_fibre(owner, marit):
    on_cotton = pot_of(marit, "10 l water", "2.5 g rust", dye_class="cold_reactive", fibres={"cotton": 1000})

    page = owner.get(reverse("pot", args=[on_cotton.code])).content.decode()

    assert "Soda ash solution is mildly caustic" in page
    assert "Add acid to water" not in page


def test_each_sentence_and_amount_names_a_source_of_the_list(marit, vinegar, studio):
    studio.water_alkalinity_mg_per_litre = 140
    studio.save()
    page = usual(pot_of(marit, "10 l water", "2.5 g rust", dye_class="milling"))

    cites = [
        cite
        for part in page.parts
        for cite in (
            part.process.cite,
            part.water_cite,
            *(said.cite for said in (*part.targets, *part.sayings)),
            *(line.cite for thing in part.things for line in thing.lines),
        )
        if cite is not None
    ]

    assert {cite.number for cite in cites} == set(range(1, len(page.sources) + 1))
    assert all(page.sources[cite.number - 1] == cite.source for cite in cites)
    assert all(cite.source.standing.value in cite.words for cite in cites)


def test_the_plan_and_its_card_say_what_the_way_lacks(owner, marit):
    way = factories.way(who=marit, lines=("7.5 l water", "30 ml red 1%", "82 C"))
    plan = factories.redye_plan(of=way, who=marit, pieces=4)

    page = owner.get(reverse("redye-plan", args=[plan.pk])).content.decode()

    assert "The way has no acid" in page
    # 15 g on a pound is 13.2 g on 400 g; P. E. Burch.
    assert "13.2 g Citric acid" in page


def test_the_plan_of_a_way_with_acid_says_nothing_of_it(owner, marit):
    plan = factories.redye_plan(of=factories.way(who=marit), who=marit, pieces=4)

    assert "The way has no" not in owner.get(reverse("redye-plan", args=[plan.pk])).content.decode()


def test_a_bath_that_was_used_before_is_named(marit):
    before = pot_of(marit, "10 l water")
    pot = factories.loaded_pot(who=marit)
    Pot.objects.filter(pk=pot.pk).update(bath_from=before)
    pot.refresh_from_db()

    assert any("used before" in note for note in usual(pot).notes)
    assert not any("used before" in note for note in usual(before).notes)
