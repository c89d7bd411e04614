"""The store's page and its things, opened by a helper."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from dyehouse.ledger.models import Movement
from recipes import counting, yarn
from recipes.models import Auxiliary, Base, Dye, Jar, StockBottle
from recipes.queries import HISTORY_PAGE, the_store
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def helper(client):
    person = factories.HelperFactory()
    client.force_login(person)
    return person


def fill_store(many):
    """So many of each kind, each with a past."""
    who = factories.OwnerFactory()
    for _ in range(many):
        base = factories.base()
        factories.put_up(base=base, pieces=8, who=who)
        factories.put_up(base=base, grams=20, who=who)
        jar = factories.jar(who=who)
        factories.bottle(jar=jar, who=who)
    for number in range(many):
        factories.auxiliary(f"Vinegar {number}", amount=500_000, who=who)


def test_an_empty_store_says_what_to_do_next(client, helper):
    page = client.get(reverse("store")).content.decode()

    for words in ("Write down a base", "Write down a dye", "Write down an auxiliary"):
        assert words in page


def test_the_store_says_what_is_low_and_what_is_out(client, helper):
    owner = factories.OwnerFactory()
    factories.put_up(base=factories.base("Heron Sock"), pieces=4, who=owner)
    factories.dye("Straw")
    factories.jar(dye=factories.dye("Brick red"), grams=9, who=owner)
    jar = factories.jar(dye=factories.dye("Slate"), who=owner)
    old = factories.bottle(
        jar=jar,
        who=owner,
        made_at=timezone.now() - dt.timedelta(days=120),
        best_before=timezone.localdate() - dt.timedelta(days=1),
    )

    store = the_store()
    page = client.get(reverse("store")).content.decode()

    assert store.bases[0].put_ups[0].state == "low"
    assert {one.dye.name: one.state for one in store.dyes} == {
        "Brick red": "low",
        "Slate": "",
        "Straw": "out",
    }
    assert [(one.bottle, one.too_old, one.age_days) for one in store.bottles] == [(old, True, 120)]
    assert "past its day" in page
    assert "none left" in page
    assert "120 days old" in page


def test_a_finished_jar_and_bottle_are_no_longer_in_the_store(client, helper):
    bottle = factories.bottle()
    client.post(reverse("bottle-finish", args=[bottle.pk]), {"why": "used up"})
    client.post(reverse("jar-finish", args=[bottle.jar_id]), {"why": "too old"})

    store = the_store()

    assert store.bottles == []
    assert store.dyes[0].jars == []
    assert client.get(reverse("bottle", args=[bottle.pk])).status_code == 200


PAGES = {
    "store": list,
    "base": lambda: [Base.objects.first().pk],
    "base-yarn-in": lambda: [Base.objects.first().pk],
    "base-change": lambda: [Base.objects.first().pk],
    "dye": lambda: [Dye.objects.first().pk],
    "jar": lambda: [Jar.objects.first().pk],
    "bottle": lambda: [StockBottle.objects.first().pk],
    "auxiliary": lambda: [Auxiliary.objects.first().pk],
    "stock-new": list,
    "base-new": list,
    "dye-new": list,
}


def test_no_page_of_the_store_asks_more_with_a_hundred_times_the_rows(
    client, helper, django_assert_max_num_queries
):
    factories.studio()
    asked = {}
    for many in (1, 99):
        fill_store(many) if many == 1 else fill_more(many)
        for name, args in PAGES.items():
            with django_assert_max_num_queries(12) as queries:
                assert client.get(reverse(name, args=args())).status_code == 200
            asked.setdefault(name, []).append(len(queries))

    assert {name: counts for name, counts in asked.items() if counts[1] > counts[0]} == {}


def fill_more(many):
    """A hundred times as many of everything, and as many moves of the first of each."""
    who = factories.OwnerFactory()
    first_jar, first_base = Jar.objects.get(), Base.objects.get()
    auxiliary, bottle = Auxiliary.objects.get(), StockBottle.objects.get()
    put_up = first_base.put_ups.first()
    for number in range(many):
        base = factories.base()
        factories.put_up(base=base, pieces=8, who=who)
        factories.bottle(jar=factories.jar(who=who, grams=500), millilitres=10, who=who)
        factories.auxiliary(f"Salt {number}", who=who)
        factories.bottle(jar=first_jar, millilitres=10, strength_mg_per_litre=1000, who=who)
        lot = yarn.add_mill_lot(base=first_base, number=f"M{number}")
        yarn.receive_yarn(key=uuid.uuid4(), put_up=put_up, mill_lot=lot, pieces=1, who=who)
        for item, of in ((auxiliary.item, auxiliary.lot), (bottle.dye.stock_item, bottle.lot)):
            counting.count_in_store(
                key=uuid.uuid4(), item=item, lot=of, counted=1000 + number, who=who, why="counted"
            )


def test_a_base_is_written_down_with_its_name_and_weight_alone(client, helper):
    answer = client.post(
        reverse("base-new"), {"name": "Heron Sock", "nominal_milligrams": "100", "pieces": "0", "came": "now"}
    )

    base = Base.objects.get()
    assert (answer.status_code, answer["Location"]) == (303, reverse("base", args=[base.pk]))
    assert base.put_ups.get().nominal_milligrams == 100_000
    assert not Movement.objects.exists()


def test_a_base_is_written_down_in_full(client, helper):
    client.post(
        reverse("base-new"),
        {
            "name": "Heron Sock",
            "nominal_milligrams": "3.5 oz",
            "metres": "437 yd",
            "pieces": "20",
            "mill_lot": "4411",
            "came": "before",
            "fibre_1": "wool",
            "share_1": "75",
            "fibre_2": "nylon",
            "share_2": "25 %",
            "metres_per_100g": "400",
            "category": "1",
            "superwash": "yes",
            "hank_circumference_millimetres": "60 in",
            "spun_in": "PE",
        },
    )

    base = Base.objects.get()
    put_up = base.put_ups.get()
    # 3.5 oz = 99.223 g, 437 yd = 399.6 m, 60 in = 152.4 cm (NIST Handbook 44, Appendix C).
    assert (put_up.nominal_milligrams, put_up.metres) == (99_223, 400)
    assert [(f.fibre, f.per_mille) for f in base.fibres.order_by("pk")] == [("wool", 750), ("nylon", 250)]
    assert (base.category, base.superwash, base.spun_in) == (1, True, "PE")
    assert base.hank_circumference_millimetres == 1524
    [one] = the_store().bases
    assert (one.put_ups[0].lots[0].mill_lot.number, one.pieces) == ("4411", 20)


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"name": ""}, "Give the base a name"),
        ({"nominal_milligrams": "heavy"}, "is not an amount"),
        ({"fibre_1": "wool", "share_1": "75"}, "sum to 75 %, and 25 % is missing"),
        ({"fibre_1": "wool"}, "Write the share of this fibre"),
        ({"share_1": "100"}, "Choose which fibre"),
        ({"fibre_1": "wool", "share_1": "50", "fibre_2": "wool", "share_2": "50"}, "stands above already"),
        ({"pieces": "-1"}, "Write 0 or more"),
        ({"category": "12"}, "is not one of the choices"),
    ],
)
def test_a_base_with_something_wrong_keeps_what_was_typed_and_changes_nothing(client, helper, changed, says):
    sent = {
        "name": "Heron Sock",
        "nominal_milligrams": "100",
        "metres": "399,5",
        "pieces": "3",
        "came": "now",
    }

    answer = client.post(reverse("base-new"), {**sent, **changed})

    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert 'value="399,5"' in answer.content.decode()
    assert not Base.objects.exists()


def test_a_taken_name_is_refused_beside_the_name(client, helper):
    factories.base("Heron Sock")

    answer = client.post(
        reverse("base-new"), {"name": "heron sock", "nominal_milligrams": "100", "pieces": "", "came": "now"}
    )

    assert answer.status_code == 422
    assert "There is a base called heron sock already" in answer.content.decode()


def test_yarn_comes_in_by_a_new_a_known_or_an_unknown_lot(client, helper):
    put_up = factories.put_up()
    address = reverse("base-yarn-in", args=[put_up.base_id])
    sent = {"put_up": put_up.pk, "pieces": "10", "came": "now"}

    client.post(address, {**sent, "lot": "new", "number": "4411"})
    known = put_up.base.mill_lots.get()
    client.post(address, {**sent, "lot": known.pk})
    client.post(address, {**sent, "lot": "unknown"})
    refused = client.post(address, {**sent, "lot": "new", "number": " "})

    lots = the_store().bases[0].put_ups[0].lots
    assert [(lot.mill_lot.number, lot.pieces) for lot in lots] == [("4411", 20), ("unknown", 10)]
    assert known.arrived_on == timezone.localdate()
    assert refused.status_code == 422
    assert "Write the number of the mill lot" in refused.content.decode()


def test_a_form_sent_twice_takes_yarn_in_once(client, helper):
    put_up = factories.put_up()
    sent = {"key": uuid.uuid4(), "put_up": put_up.pk, "pieces": "10", "lot": "unknown", "came": "now"}

    for _ in range(2):
        assert client.post(reverse("base-yarn-in", args=[put_up.base_id]), sent).status_code == 303

    assert the_store().bases[0].pieces == 10


def test_a_mill_lot_is_counted_with_a_reason(client, helper):
    put_up = factories.put_up(pieces=10)
    address = reverse("mill-lot", args=[put_up.base.mill_lots.get().pk, put_up.pk])

    refused = client.post(address, {"counted": "8", "why": ""})
    counted = client.post(address, {"counted": "8", "why": "two to a friend"})

    assert refused.status_code == 422
    assert counted.status_code == 303
    page = client.get(address).content.decode()
    assert "8 pieces" in page
    assert "two to a friend" in page
    assert "Jonas" in page


def test_a_dye_is_written_down_with_its_name_and_grams(client, helper):
    answer = client.post(
        reverse("dye-new"),
        {"name": "Brick red", "milligrams": "50", "dye_class": "acid_unknown", "came": "now"},
    )

    dye = Dye.objects.get()
    assert answer["Location"] == reverse("dye", args=[dye.pk])
    assert dye.chip == ""
    assert the_store().dyes[0].milligrams == 50_000


def test_a_dye_may_be_written_down_before_there_is_any_of_it(client, helper):
    client.post(
        reverse("dye-new"), {"name": "Brick red", "dye_class": "milling", "came": "now", "chip": "#A3202C"}
    )

    assert (Dye.objects.get().dye_class, Dye.objects.get().chip) == ("milling", "#a3202c")
    assert not Jar.objects.exists()


@pytest.mark.parametrize(
    ("weights", "says"),
    [
        ({}, "Write how much dye"),
        ({"gross_milligrams": "60", "tare_milligrams": "60"}, "must weigh more than the empty one"),
        ({"milligrams": "10", "gross_milligrams": "80", "tare_milligrams": "60"}, "Full less empty is 20 g"),
        ({"milligrams": "100", "gross_milligrams": "80"}, "less than the dye alone"),
        ({"milligrams": "1,250"}, "can be read in two ways"),
    ],
)
def test_a_jar_whose_weights_disagree_is_asked_back(client, helper, weights, says):
    dye = factories.dye()

    answer = client.post(reverse("dye-jar", args=[dye.pk]), {"came": "now", **weights})

    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert not Jar.objects.exists()


def test_a_jar_weighed_full_and_empty_holds_the_difference(client, helper):
    dye = factories.dye()

    client.post(
        reverse("dye-jar", args=[dye.pk]),
        {"came": "now", "gross_milligrams": "85", "tare_milligrams": "60,5", "label": "L7"},
    )

    assert the_store().dyes[0].milligrams == 24_500


def test_a_jar_is_counted_by_one_weighing(client, helper):
    jar = factories.jar(grams=100, gross_milligrams=160_000)

    answer = client.post(reverse("jar-weigh", args=[jar.pk]), {"gross_milligrams": "150"}, follow=True)

    assert "The book now says what you weighed." in answer.content.decode()
    assert the_store().dyes[0].milligrams == 90_000


def test_a_weighing_below_the_tare_is_said_beside_the_field(client, helper):
    jar = factories.jar(grams=100, gross_milligrams=160_000)

    answer = client.post(reverse("jar-weigh", args=[jar.pk]), {"gross_milligrams": "50"})

    assert answer.status_code == 422
    assert "less than the empty jar" in answer.content.decode()
    assert 'value="50"' in answer.content.decode()


def test_a_tare_is_written_down_later(client, helper):
    jar = factories.jar(grams=100)
    assert "Count it by weighing" in client.get(reverse("jar", args=[jar.pk])).content.decode()

    client.post(reverse("jar-tare", args=[jar.pk]), {"tare_milligrams": "61"})

    assert "By the book it weighs 161 g" in client.get(reverse("jar", args=[jar.pk])).content.decode()


def test_the_past_of_a_bottle_is_shown_page_by_page(client, helper):
    bottle = factories.bottle()
    for number in range(HISTORY_PAGE + 5):
        counting.count_in_store(
            key=uuid.uuid4(),
            item=bottle.dye.stock_item,
            lot=bottle.lot,
            counted=1000 + number,
            who=helper,
            why=f"count {number}.",
        )
    address = reverse("bottle", args=[bottle.pk])

    first, second = (client.get(address, {"page": page}).content.decode() for page in ("1", "2"))

    assert f"count {HISTORY_PAGE + 4}." in first
    assert "count 0." not in first
    assert "count 0." in second
    assert "Made here" in second
    for odd in ("0", "-1", "x", "9" * 5000):
        assert client.get(address, {"page": odd}).status_code == 200


@pytest.mark.parametrize(
    ("form", "typed", "amount"),
    # 1 US gal = 3785.411784 ml, 1 lb = 453.59237 g (NIST Handbook 44, Appendix C).
    [
        ("liquid", "750", 750_000),
        ("liquid", "1 gal", 3_785_412),
        ("powder", "2 lb", 907_185),
        ("powder", "", 0),
    ],
)
def test_an_auxiliary_is_written_down_by_its_form(client, helper, form, typed, amount):
    answer = client.post(
        reverse("auxiliary-new"),
        {"name": "Vinegar", "role": "acid", "form": form, "amount": typed, "came": "now"},
    )

    assert answer.status_code == 303
    assert the_store().auxiliaries[0].amount == amount


def test_an_auxiliary_weighed_in_the_wrong_unit_is_asked_back(client, helper):
    answer = client.post(
        reverse("auxiliary-new"),
        {"name": "Salt", "role": "salt", "form": "powder", "amount": "1 l", "came": "now"},
    )

    assert answer.status_code == 422
    assert "is not a unit for this" in answer.content.decode()


def test_more_of_an_auxiliary_comes_in_and_is_counted(client, helper):
    vinegar = factories.auxiliary(amount=100_000)

    client.post(reverse("auxiliary-in", args=[vinegar.pk]), {"amount": "0,5 l", "came": "now"})
    assert the_store().auxiliaries[0].amount == 600_000
    client.post(reverse("auxiliary-count", args=[vinegar.pk]), {"counted": "0", "why": "knocked over"})
    assert the_store().auxiliaries[0].amount == 0


def test_what_is_known_of_things_is_put_right(client, helper):
    put_up, dye, vinegar = factories.put_up(), factories.dye(), factories.auxiliary()

    client.post(reverse("put-up", args=[put_up.pk]), {"metres": "390", "name": "skein"})
    client.post(reverse("base-change", args=[put_up.base_id]), {"name": "Heron", "superwash": "no"})
    client.post(
        reverse("dye-change", args=[dye.pk]),
        {
            "name": "Rust",
            "dye_class": "milling",
            "ci_name": "C.I. Acid Red 1",
            "strength_of_type_percent": "150",
        },
    )
    client.post(
        reverse("auxiliary-change", args=[vinegar.pk]),
        {"name": "Strong vinegar", "role": "acid", "strength_hundredths_percent": "12,5"},
    )

    for thing in (put_up, put_up.base, dye, vinegar):
        thing.refresh_from_db()
    assert (put_up.metres, put_up.name, put_up.base.superwash) == (390, "skein", False)
    assert (dye.name, dye.dye_class, dye.strength_of_type_percent, dye.chip) == ("Rust", "milling", 150, "")
    assert (vinegar.name, vinegar.strength_hundredths_percent) == ("Strong vinegar", 1250)
