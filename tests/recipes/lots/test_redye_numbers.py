"""Ten skeins of it again: loads, amounts by their basis, what differs today, what must stand ready, the card."""

from __future__ import annotations

import io
import uuid
from fractions import Fraction

import pypdfium2
import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st

from dyehouse.ledger.models import Movement
from recipes.dyeing.rounding import Level
from recipes.lots import redye
from recipes.lots.in_store import in_store_today
from recipes.lots.log import keep_line
from recipes.lots.models import PlannedStep, Pot
from recipes.lots.redye import CannotBePlanned, RedyeAsk, preview_redye
from recipes.lots.redye_amounts import Bench, plan_steps
from recipes.lots.redye_stocks import what_to_have_ready
from recipes.lots.today import heating_for, today_for, what_differs
from recipes.models import Auxiliary, Dye, Rule
from recipes.ways import PotSize
from tests import factories

BENCH = Bench(scales=((10, None),), cylinders=((500, None),))


def rule(
    kind: str, basis: str, unit: str, thousandths: int, *, number: int = 1, strength: int | None = None
) -> Rule:
    """A rule that is not in the database."""
    dye = Dye(name="Red") if kind == "dye" else None
    auxiliary = Auxiliary(name="Acetate") if kind == "auxiliary" else None
    return Rule(
        number=number, kind=kind, dye=dye, auxiliary=auxiliary, basis=basis, unit=unit, thousandths=thousandths,
        strength_mg_per_litre=strength,
    )  # fmt: skip


def amounts(rules: list[Rule], size: PotSize) -> list[int | None]:
    return [
        step.milligrams if step.milligrams is not None else step.microlitres
        for step in plan_steps(rules, size=size, bench=BENCH)
        if step.rule is not None
    ]


class TestScaling:
    """facts/dye_chemistry.md section 5, worked scaling and CHECK VALUES 24, 25 (derived from the handbook's bases)."""

    def test_a_sample_of_50_g_becomes_a_lot_of_2_kg(self):
        # 50 g at 30:1 with dye 0.75 g, citric 1 g, Glauber's 2.5 g, leveller 0.5 g, acetate 1.5 g; then 2 kg at 20:1.
        rules = [
            rule("dye", "fibre", "mg", 15_000_000),
            rule("auxiliary", "fibre", "mg", 20_000_000, number=2),
            rule("auxiliary", "fibre", "mg", 50_000_000, number=3),
            rule("auxiliary", "fibre", "mg", 10_000_000, number=4),
            rule("auxiliary", "bath", "mg", 1_000_000, number=5),
        ]

        sample = amounts(rules, PotSize(50_000, 1_500_000, 1))
        lot = amounts(rules, PotSize(2_000_000, 40_000_000, 20))

        assert sample == [750, 1_000, 2_500, 500, 1_500]
        assert lot == [30_000, 40_000, 100_000, 20_000, 40_000]

    def test_stock_is_measured_and_water_makes_up_the_bath(self):
        # facts/dye_chemistry.md CHECK VALUES 1 and 12: 125 g at 2 % is 2.5 g of dye; 100 g at 50 % from 10 % is 500 ml.
        steps = plan_steps(
            [
                rule("dye", "fibre", "mg", 20_000_000, strength=10_000),
                rule("water", "fibre", "ul", 1, number=2),
                rule("dye", "fibre", "mg", 500_000_000, number=3, strength=100_000),
            ],
            size=PotSize(100_000, 3_000_000, 1),
            bench=BENCH,
        )

        assert [step.microlitres for step in steps] == [200_000, 2_300_000, 500_000]
        assert [step.number for step in steps] == [1, 2, 3]
        assert steps[1].rule is None

    @given(dry=st.integers(20_000, 5_000_000), depth_hundredths=st.integers(3, 400))
    @settings(max_examples=150, deadline=None)
    def test_the_depth_after_rounding_is_within_what_is_said(self, dry, depth_hundredths):
        step = next(
            step
            for step in plan_steps(
                [rule("dye", "fibre", "mg", depth_hundredths * 100_000)],
                size=PotSize(dry, dry * 30, 1),
                bench=BENCH,
            )
            if step.rule is not None
        )
        measured = step.measured
        assert measured is not None
        assert abs(measured.amount - measured.exact) <= Fraction(BENCH.scales[0][0], 2)
        if measured.level is not Level.CANNOT:
            wanted = Fraction(depth_hundredths, 100)
            off = abs(Fraction(measured.depth_percent) - wanted) / wanted * 100
            assert off <= abs(measured.rounding_percent) + Fraction(1, 10**6)


@pytest.mark.django_db
class TestPlanning:
    @pytest.fixture(autouse=True)
    def studio(self):
        factories.ScaleFactory(step=10)
        factories.CylinderFactory(step=500)
        return factories.studio()

    @pytest.fixture
    def who(self):
        return factories.OwnerFactory()

    @pytest.fixture
    def way(self, who):
        return factories.way(who=who)

    def ask(self, way, *, pieces: int = 10, **changed) -> RedyeAsk:
        facts = {
            "way": way,
            "put_up": way.base.put_ups.get(),
            "mill_lot": None,
            "pieces": pieces,
            "piece_dry_milligrams": 100_000,
            "vessel": factories.VesselFactory(working_millilitres=20_000),
            "liquor_ratio_tenths": 250,
        }
        return RedyeAsk(**{**facts, **changed})

    def test_ten_skeins_go_into_even_pots_with_amounts_by_their_own_weight(self, way):
        # The pot learned from: 300 g, 30 ml of Red 1 % = 0.3 g = 0.1 %, citric 4.5 g = 1.5 %. So 500 g take 0.5 g of
        # Red = 50 ml of 1 %, 7.5 g of citric; the bath at 25:1 is 12.5 l, of which 12.45 l are poured as 12.5.
        preview = preview_redye(self.ask(way))

        assert [pot.load.pieces for pot in preview.pots] == [5, 5]
        by_name = {
            str(step.rule.dye or step.rule.auxiliary or step.rule.kind) if step.rule else "water": step
            for step in preview.pots[0].steps
        }
        assert by_name["Red"].microlitres == 50_000
        assert by_name["Red"].depth_percent == Fraction(1, 10)
        assert by_name["Citric acid"].milligrams == 7_500
        assert by_name["water"].microlitres == 12_500_000
        assert preview.pots[0].bath_microlitres == 12_500_000

    def test_loads_that_differ_have_amounts_that_differ(self, way):
        preview = preview_redye(self.ask(way, pieces=11))

        reds = [
            next(step.microlitres for step in pot.steps if step.rule and step.rule.dye)
            for pot in preview.pots
        ]
        assert ([pot.load.pieces for pot in preview.pots], reds) == ([6, 5], [60_000, 50_000])

    def test_a_piece_that_does_not_fit_is_refused_and_nothing_is_written(self, way, who):
        ask = self.ask(way, vessel=factories.VesselFactory(working_millilitres=2_000))

        with pytest.raises(CannotBePlanned, match="Take a larger vessel"):
            redye.plan_redye(key=uuid.uuid4(), ask=ask, who=who)

        assert not PlannedStep.objects.exists()

    def test_a_plan_gives_each_pot_its_code_and_moves_nothing(self, way, who):
        before = Movement.objects.count()

        plan = redye.plan_redye(key=uuid.uuid4(), ask=self.ask(way), who=who)

        pots = list(plan.pots.all())
        assert len({pot.code for pot in pots}) == 2
        assert {pot.state for pot in pots} == {"planned"}
        assert Movement.objects.count() == before
        assert pots[0].planned.count() == len(preview_redye(self.ask(way)).pots[0].steps)

    def test_a_planned_pot_is_dropped_and_a_loaded_one_is_not(self, way, who):
        plan = redye.plan_redye(key=uuid.uuid4(), ask=self.ask(way), who=who)

        assert redye.drop_planned(pot=plan.pots.first()).state == "dropped"
        with pytest.raises(CannotBePlanned, match="only a planned pot"):
            redye.drop_planned(pot=factories.loaded_pot())

    def test_what_differs_is_exactly_what_was_changed(self, way):
        vessel = Pot.objects.get(ways_learned__way=way).vessel
        same = self.ask(way, pieces=3, vessel=vessel, liquor_ratio_tenths=251)

        def whats(ask):
            return [row.what for row in what_differs(ask, preview_redye(ask).pots[0], today_for(ask))]

        assert whats(same) == []
        fewer = self.ask(way, pieces=2, vessel=vessel, liquor_ratio_tenths=251)
        assert whats(fewer) == ["Yarn in the pot"]
        elsewhere = self.ask(way, pieces=3, liquor_ratio_tenths=251)
        assert whats(elsewhere) == ["Vessel"]

    def test_the_temperatures_are_those_of_the_log(self, way):
        ask = self.ask(way)

        heating = heating_for(ask, preview_redye(ask).pots[0], today_for(ask))

        assert any("82 °C" in step.line for step in heating.programme.steps)
        assert heating.rises == [] or all("hob needs" in rise.sentence for rise in heating.rises)

    def test_a_bottle_that_does_not_suffice_says_what_to_mix(self, way):
        # The bottle held 500 ml less the 30 ml of the trial; forty skeins take 400 ml, two hundred take 2 l.
        enough = what_to_have_ready(preview_redye(self.ask(way, pieces=40)).pots, in_store_today()).stocks[0]
        short = what_to_have_ready(preview_redye(self.ask(way, pieces=200)).pots, in_store_today()).stocks[0]

        assert (enough.needed_microlitres, enough.suffices) == (400_000, True)
        assert (short.needed_microlitres, short.suffices) == (2_000_000, False)
        # 2 l of 1 % are 20 g of powder (10 g per litre: facts/dye_chemistry.md section 1).
        assert (short.mix_microlitres, short.powder_milligrams) == (2_000_000, 20_000)

    def test_an_addition_as_planned_stands_beside_its_step(self, way, who):
        plan = redye.plan_redye(key=uuid.uuid4(), ask=self.ask(way), who=who)
        pot = plan.pots.first()
        factories.yarn.receive_yarn(
            key=uuid.uuid4(), put_up=plan.put_up, mill_lot=pot.loads.get().mill_lot, pieces=10, who=who
        )
        client = Client()
        client.force_login(who)
        client.post(reverse("pot-load", args=[pot.code]), {"mill_lot": pot.loads.get().mill_lot_id})
        pot.refresh_from_db()
        entry = keep_line(pot=pot, key=uuid.uuid4(), typed="55 ml red 1%", who=who)[0]

        assert entry.planned is not None
        page = client.get(reverse("pot", args=[pot.code])).content.decode()
        assert "more" in page

    def test_the_page_works_it_out_and_plans_it(self, way, who):
        client = Client()
        client.force_login(who)
        ask = self.ask(way)
        said = {"pieces": 10, "put_up": ask.put_up.pk, "vessel": ask.vessel.pk, "ratio": "25"}

        page = client.get(reverse("redye", args=[way.colourway.code]), said).content.decode()
        answer = client.post(reverse("redye", args=[way.colourway.code]), said)

        assert "10 pieces in 2 pots of 5" in page
        assert answer.status_code == 303
        assert "The pots" in client.get(answer["Location"]).content.decode()

    def test_a_wrong_answer_keeps_what_was_typed(self, way, who):
        client = Client()
        client.force_login(who)
        ask = self.ask(way)

        answer = client.get(
            reverse("redye", args=[way.colourway.code]),
            {"pieces": "0", "put_up": ask.put_up.pk, "vessel": ask.vessel.pk, "ratio": "31.5"},
        )

        page = answer.content.decode()
        assert answer.status_code == 422
        assert "At least 1 piece is dyed." in page
        assert 'value="31.5"' in page

    def test_the_pages_stay_within_their_queries(self, way, who, django_assert_max_num_queries):
        client = Client()
        client.force_login(who)
        plan = redye.plan_redye(key=uuid.uuid4(), ask=self.ask(way, pieces=60), who=who)

        said = f"?pieces=60&put_up={plan.put_up.pk}&vessel={plan.vessel.pk}&ratio=25"
        addresses = [
            reverse("redye-plan", args=[plan.pk]),
            reverse("redye", args=[way.colourway.code]),
            reverse("redye", args=[way.colourway.code]) + said,
        ]
        for _ in range(2):
            for address in addresses:
                client.get(address)
                with django_assert_max_num_queries(12):
                    assert client.get(address).status_code == 200
            for _ in range(20):
                factories.bottle(jar=factories.jar(dye=factories.dye(), who=who), who=who)
                factories.put_up(pieces=5, who=who)

    def test_a_card_says_what_goes_in(self, way, who):
        client = Client()
        client.force_login(who)
        plan = redye.plan_redye(key=uuid.uuid4(), ask=self.ask(way), who=who)

        answer = client.get(reverse("dye-cards", args=[plan.pk]))

        document = pypdfium2.PdfDocument(io.BytesIO(answer.content))
        assert len(document) == 2
        text = document[0].get_textpage().get_text_bounded()
        for words in ("Red", "50 ml", "7.5 g", "12.5 litres", plan.pots.first().code):
            assert words in text
