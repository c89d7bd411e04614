"""The cast and the things of the tests: an owner and a helper, a studio, vessels, yarn, dyes, colourways.

Sections are per room; add to the end of yours. Everything that the ledger counts is made by the operations that a dyer
uses, so that the book agrees with it.
"""

from __future__ import annotations

import datetime as dt
import io
import uuid
from typing import Any

import factory
from django.utils import timezone
from factory.django import DjangoModelFactory
from PIL import Image

from dyehouse.ledger.models import Balance, Place
from dyehouse.paper.designs import Design, keep_design
from dyehouse.paper.long_printing import start_long_printing
from dyehouse.paper.models import LabelDesign, OwnSheet, PrintJob, PrintRun
from dyehouse.paper.own_sheets import keep_own_sheet
from dyehouse.paper.payloads import payload_of
from dyehouse.paper.runs import record_run
from dyehouse.paper.sheets import Offset, custom_sheet, sheet_named
from dyehouse.paper.yarn_label import YarnLabel
from dyehouse.studio.codes import take_code
from dyehouse.studio.models import Measure, PairedPhone, Studio, User, Vessel
from dyehouse.studio.phones import open_code
from inventory import counting, holding, kits, shelf
from inventory.models import BuiltKit, CountRound, HandHold
from recipes import colourways, dyestuff, mixes, yarn
from recipes.lots import finishing, learning, log, photos, pots, redye
from recipes.lots.models import DyeLot, LogEntry, Photo, Pot, PotLoad, RedyePlan
from recipes.lots.notebook.reading import NotedPot, NotedRow
from recipes.lots.notebook.taking import Recipe, take_in_notes
from recipes.models import (
    Auxiliary,
    Base,
    Colourway,
    Dye,
    DyedYarn,
    Jar,
    MillLot,
    Mix,
    PutUp,
    StockBottle,
    WayOfDyeing,
)

PASSWORD = "lichen-on-slate"

# --- Studio -----------------------------------------------------------------------------------------------------------


class UserFactory(DjangoModelFactory[User]):
    class Meta:
        model = User
        skip_postgeneration_save = True

    username = factory.Sequence(lambda n: f"person{n}")
    password = factory.django.Password(PASSWORD)
    role = User.Role.HELPER


class OwnerFactory(UserFactory):
    username = factory.Sequence(lambda n: f"owner{n}")
    called = "Marit"
    role = User.Role.OWNER


class HelperFactory(UserFactory):
    username = factory.Sequence(lambda n: f"helper{n}")
    called = "Jonas"
    role = User.Role.HELPER


def studio(**facts: Any) -> Studio:
    """The one studio, its first questions answered."""
    here = Studio.current()
    for name, value in {"name": "Slate Ford Yarns", "set_up_at": timezone.now(), **facts}.items():
        setattr(here, name, value)
    here.save()
    return here


def phone_code(*, person: User | None = None) -> tuple[PairedPhone, str]:
    """A code that is waiting for a phone, as the owner's page makes it."""
    return open_code(person=person or HelperFactory())


class VesselFactory(DjangoModelFactory[Vessel]):
    class Meta:
        model = Vessel

    name = factory.Sequence(lambda n: f"Pot {n + 1}")
    kind = Vessel.Kind.POT
    working_millilitres = 12_000
    hob_watts = 2_000


class ScaleFactory(DjangoModelFactory[Measure]):
    """A scale that shows hundredths of a gram."""

    class Meta:
        model = Measure

    name = "Fine scale"
    kind = Measure.Kind.SCALE
    step = 10
    most = 500_000


class CylinderFactory(DjangoModelFactory[Measure]):
    """A syringe with half-millilitre marks."""

    class Meta:
        model = Measure

    name = "Syringe"
    kind = Measure.Kind.CYLINDER
    step = 500
    most = 60_000


# --- Store ------------------------------------------------------------------------------------------------------------

_bases = iter(range(1, 1_000_000))
_dyes = iter(range(1, 1_000_000))


def base(name: str = "", *, fibres: dict[str, int] | None = None, **facts: Any) -> Base:
    """A base of 75 % wool and 25 % nylon with 400 m in 100 g, unless said otherwise."""
    return yarn.add_base(
        name=name or f"Heron Sock {next(_bases)}",
        fibres={"wool": 750, "nylon": 250} if fibres is None else fibres,
        **{"metres_per_100g": 400, "category": Base.Category.SUPER_FINE, "superwash": True, **facts},
    )


def put_up(
    *,
    base: Base | None = None,
    grams: int = 100,
    pieces: int = 0,
    mill_lot: MillLot | None = None,
    who: User | None = None,
    metres: int | None = None,
) -> PutUp:
    """A put-up, with so many pieces in the store when asked (in the lot named, else in the unknown one)."""
    on = base or globals()["base"]()
    made = yarn.add_put_up(
        base=on, nominal_milligrams=grams * 1000, metres=4 * grams if metres is None else metres
    )
    if pieces:
        yarn.receive_yarn(
            key=uuid.uuid4(),
            put_up=made,
            mill_lot=mill_lot or yarn.unknown_mill_lot(on),
            pieces=pieces,
            who=who or OwnerFactory(),
        )
    return made


def dye(name: str = "", **facts: Any) -> Dye:
    """A dye, “acid, class unknown” unless said otherwise."""
    return dyestuff.add_dye(name=name or f"Red {next(_dyes)}", **{"chip": "#a3202c", **facts})


def jar(
    *, dye: Dye | None = None, grams: int = 100, label: str = "", who: User | None = None, **facts: Any
) -> Jar:
    """A jar with its powder in the store."""
    return dyestuff.add_jar(
        key=uuid.uuid4(),
        dye=dye or globals()["dye"](),
        label=label,
        milligrams=grams * 1000,
        who=who or OwnerFactory(),
        **facts,
    )


def bottle(
    *,
    jar: Jar | None = None,
    strength_mg_per_litre: int = 10_000,
    millilitres: int = 500,
    made_at: dt.datetime | None = None,
    who: User | None = None,
    **facts: Any,
) -> StockBottle:
    """A bottle of 1 % stock made from a jar that has enough."""
    source = jar or globals()["jar"](who=who)
    return dyestuff.make_stock(
        key=uuid.uuid4(),
        dye=source.dye,
        jar=source,
        strength_mg_per_litre=strength_mg_per_litre,
        microlitres=millilitres * 1000,
        made_at=made_at or timezone.now(),
        who=who or OwnerFactory(),
        **facts,
    )


def mix(
    name: str = "",
    *,
    grams: dict[Jar, int] | None = None,
    millilitres: int = 1_000,
    poured: dict[StockBottle, int] | None = None,
    who: User | None = None,
    **facts: Any,
) -> Mix:
    """A litre of 2 g of one dye and 1 g of another, or `grams` by jar and `poured` millilitres by bottle."""
    if grams is None and poured is None:
        grams = {jar(): 2, jar(): 1}
    parts = [mixes.Part(jar=each, milligrams=weight * 1000) for each, weight in (grams or {}).items()]
    parts += [mixes.Part(bottle=each, microlitres=ml * 1000) for each, ml in (poured or {}).items()]
    return mixes.make_mix(
        key=uuid.uuid4(),
        name=name,
        parts=parts,
        microlitres=millilitres * 1000,
        who=who or OwnerFactory(),
        **{"made_at": timezone.now(), **facts},
    )


def auxiliary(
    name: str = "Vinegar",
    *,
    role: str = Auxiliary.Role.ACID,
    form: str = Auxiliary.Form.LIQUID,
    strength_hundredths_percent: int | None = 500,
    amount: int = 0,
    who: User | None = None,
) -> Auxiliary:
    """Vinegar of 5 % unless said otherwise, with so many µl or mg in the store when asked."""
    made = dyestuff.add_auxiliary(
        name=name, role=role, form=form, strength_hundredths_percent=strength_hundredths_percent
    )
    if amount:
        dyestuff.receive_auxiliary(key=uuid.uuid4(), auxiliary=made, amount=amount, who=who or OwnerFactory())
    return made


def colourway(name: str = "", **facts: Any) -> Colourway:
    """A colourway with a code of its own."""
    return colourways.new_colourway(name=name, **{"chips": ("#3f5d4a", "#c9b27c"), **facts})


# --- Pots -------------------------------------------------------------------------------------------------------------


def loaded_pot(
    *,
    put_up: PutUp | None = None,
    pieces: int = 5,
    dry_grams: int | None = None,
    colourway: Colourway | None = None,
    vessel: Vessel | None = None,
    who: User | None = None,
    happened_at: dt.datetime | None = None,
) -> Pot:
    """A trial pot with five pieces of 100 g in it, their yarn from the store."""
    owner = who or OwnerFactory()
    return pots.start_trial(
        key=uuid.uuid4(),
        put_up=put_up or globals()["put_up"](pieces=pieces, who=owner),
        mill_lot=None,
        pieces=pieces,
        dry_milligrams=None if dry_grams is None else dry_grams * 1000,
        vessel=vessel or VesselFactory(),
        colourway=colourway,
        who=owner,
        happened_at=happened_at,
    )


def planned_pot(
    *,
    way: WayOfDyeing | None = None,
    put_up: PutUp | None = None,
    pieces: int = 5,
    who: User | None = None,
) -> Pot:
    """A pot that is planned and not yet loaded, with its pieces noted and no steps."""
    owner = who or OwnerFactory()
    made = put_up or globals()["put_up"](pieces=pieces, who=owner)
    pot = Pot.objects.create(
        code=take_code(),
        colourway=way.colourway if way is not None else colourway(),
        way=way,
        vessel=VesselFactory(),
        made_at=timezone.now(),
        started_by=owner,
    )
    PotLoad.objects.create(
        pot=pot,
        put_up=made,
        mill_lot=yarn.unknown_mill_lot(made.base),
        pieces=pieces,
        dry_milligrams=pieces * made.nominal_milligrams,
    )
    return pot


def log_entry(typed: str = "turned skeins", *, pot: Pot | None = None, who: User | None = None) -> LogEntry:
    """The first entry of a line kept at a pot."""
    owner = who or OwnerFactory()
    return log.keep_line(pot=pot or loaded_pot(who=owner), key=uuid.uuid4(), typed=typed, who=owner)[0]


def photo_file(colour: str = "#3a6a70", *, size: tuple[int, int] = (64, 48)) -> io.BytesIO:
    """A photo as a phone would send it."""
    file = io.BytesIO()
    Image.new("RGB", size, colour).save(file, "JPEG")
    file.seek(0)
    file.name = "photo.jpg"
    return file


def pot_photo(*, pot: Pot | None = None, who: User | None = None) -> Photo:
    """A photo of a pot, and its entry in the log."""
    owner = who or OwnerFactory()
    return photos.add_photo(
        key=uuid.uuid4(),
        upload=photo_file(),
        kind=Photo.Kind.POT,
        pot=pot or loaded_pot(who=owner),
        who=owner,
    )


# --- Lots -------------------------------------------------------------------------------------------------------------


def lot_out(*, pot: Pot | None = None, who: User | None = None, **load: Any) -> DyeLot:
    """A lot whose pieces came out of a clear bath and wait for judging."""
    owner = who or OwnerFactory()
    return finishing.out_of_pot(
        key=uuid.uuid4(), pot=pot or loaded_pot(who=owner, **load), bath="clear", who=owner
    )


def judged_lot(
    *, good: int = 4, second: int = 1, who: User | None = None, lot: DyeLot | None = None, **load: Any
) -> DyeLot:
    """A lot that was judged dry: four good and a second."""
    owner = who or OwnerFactory()
    dye_lot = lot or lot_out(who=owner, pieces=good + second, **load)
    waiting = finishing.waiting_to_be_judged(dye_lot)[0]
    counts = {(waiting.put_up.pk, "good"): good, (waiting.put_up.pk, "second"): second}
    finishing.judge(key=uuid.uuid4(), dye_lot=dye_lot, counts=counts, who=owner, verdict="first")
    return dye_lot


def shelf_place(name: str = "") -> Place:
    """A shelf place."""
    return shelf.add_shelf_place(name=name or f"Shelf {uuid.uuid4().hex[:6]}")


def shelved_lot(
    *, place: Place | None = None, who: User | None = None, **lot: Any
) -> tuple[DyeLot, Place, DyedYarn]:
    """A judged lot whose good pieces lie on a shelf: the lot, the place, and what they are."""
    owner = who or OwnerFactory()
    dye_lot = judged_lot(who=owner, **lot)
    where = place or shelf_place()
    dyed = DyedYarn.objects.get(colourway=dye_lot.colourway, grade=DyedYarn.Grade.GOOD)
    good = Balance.objects.get(place__code="dry", item=dyed.item, lot=dye_lot.lot).on_hand
    shelf.move_to_shelf(key=uuid.uuid4(), dye_lot=dye_lot, place=where, counts={dyed.pk: good}, who=owner)
    return dye_lot, where, dyed


def hand_hold(*, for_whom: str = "Ada Reed", pieces: int = 2, who: User | None = None) -> HandHold:
    """Pieces put aside on a shelf for a week."""
    owner = who or OwnerFactory()
    lot, place, dyed = shelved_lot(who=owner)
    return holding.hold_by_hand(
        key=uuid.uuid4(),
        dyed=dyed,
        dye_lot=lot,
        place=place,
        pieces=pieces,
        for_whom=for_whom,
        until=timezone.localdate() + dt.timedelta(days=7),
        who=owner,
    )


def built_kit(*, who: User | None = None) -> BuiltKit:
    """A kit of two pieces of one colourway, built once on a shelf."""
    owner = who or OwnerFactory()
    _, place, dyed = shelved_lot(who=owner)
    parts = [kits.PartWanted(dyed.colourway, dyed.put_up, 2)]
    kit = kits.make_kit(name=f"Kit {uuid.uuid4().hex[:6]}", kind="kit", parts=parts)
    return kits.build(key=uuid.uuid4(), kit=kit, count=1, place=place, who=owner)[0]


def count_round(*, who: User | None = None) -> CountRound:
    """A shelf with a lot on it, being counted."""
    owner = who or OwnerFactory()
    _, place, _ = shelved_lot(who=owner)
    return counting.count_place(place=place, who=owner)


# --- Paper ------------------------------------------------------------------------------------------------------------


def label_run(*, who: User | None = None) -> PrintRun:
    """Two labels of one lot that were printed and can be printed again."""
    label = YarnLabel(
        studio="Weir Lane", colourway="Tin Roof", base="Ferry DK", fibres="100% wool", nominal_milligrams=100_000,
        metres=225, lot="K7M2X", qr="K7M2X",
    )  # fmt: skip
    return record_run(
        key=uuid.uuid4(),
        kind=PrintRun.Kind.YARN_LABELS,
        who=who or OwnerFactory(),
        counts={"K7M2X": 2},
        sheet="a4-3x8",
        payload={"labels": payload_of([label, label])},
    )


def own_sheet(name: str = "Strips from the drawer", **sizes: Any) -> OwnSheet:
    """A sheet of A4 with two columns of four, measured with a ruler."""
    measured = {
        "width_um": 210_000, "height_um": 297_000, "columns": 2, "rows": 4,
        "label_width_um": 95_000, "label_height_um": 60_000, "gap_x_um": 4_000, "gap_y_um": 2_500,
        "left_um": 8_000, "top_um": 20_000, **sizes,
    }  # fmt: skip
    return keep_own_sheet(sheet=custom_sheet(name=name, **measured))


def label_design(name: str = "Sock tag", **facts: Any) -> LabelDesign:
    """A tag without the care words."""
    return keep_design(
        design=Design(**{"slug": "", "name": name, "shape": "tag", "leaves_out": ("care",), **facts})
    )


def long_printing(count: int = 3, *, who: User | None = None) -> PrintJob:
    """A printing of labels that all differ, handed to the worker."""
    return start_long_printing(
        key=uuid.uuid4(),
        who=who or OwnerFactory(),
        labels=[
            YarnLabel(
                studio="Weir Lane", colourway=f"One-off {number}", base="Ferry DK", fibres="100 % wool",
                nominal_milligrams=100_000, metres=225, lot=f"K{number:04d}", qr=f"K{number:04d}",
            )
            for number in range(1, count + 1)
        ],
        sheet=sheet_named("a4-3x8"),
        start_at=1,
        offset=Offset(),
    )  # fmt: skip


# --- Redyeing ---------------------------------------------------------------------------------------------------------

LOGGED = ("7.5 l water", "heat on", "30 ml red 1%", "4.5 g citric", "82 C", "heat off")


def way(
    *, who: User | None = None, pieces: int = 3, lines: tuple[str, ...] = LOGGED, **load: Any
) -> WayOfDyeing:
    """A way of dyeing learned from a pot of three 100 g skeins: 1 % Red from stock on the bench, citric acid."""
    owner = who or OwnerFactory()
    bottle(jar=jar(dye=dye("Red"), who=owner), who=owner)
    auxiliary("Citric acid", form=Auxiliary.Form.POWDER, amount=1_000_000, who=owner)
    pot = loaded_pot(who=owner, pieces=pieces, **load)
    for line in lines:
        log.keep_line(pot=pot, key=uuid.uuid4(), typed=line, who=owner)
    lot = lot_out(pot=pot, who=owner)
    learned = learning.learn_way(pot=pot, who=owner)
    finishing.choose_reference(dye_lot=lot, base=learned.base, who=owner)
    return learned


def redye_plan(*, who: User | None = None, pieces: int = 10, of: WayOfDyeing | None = None) -> RedyePlan:
    """Ten skeins planned in pots of 12 litres, 30 to 1: three of them, of four, three and three."""
    owner = who or OwnerFactory()
    learned = of or way(who=owner)
    ask = redye.RedyeAsk(
        way=learned,
        put_up=learned.base.put_ups.get(),
        mill_lot=None,
        pieces=pieces,
        piece_dry_milligrams=100_000,
        vessel=VesselFactory(),
        liquor_ratio_tenths=300,
    )
    return redye.plan_redye(key=uuid.uuid4(), ask=ask, who=owner)


# --- Notebook ---------------------------------------------------------------------------------------------------------


def way_from_notes(*, who: User | None = None, base: Base | None = None) -> WayOfDyeing:
    """A recipe for 100 g that nobody dyed by yet: a new dye by the drop and by its share, and a temperature."""
    rows = (
        NotedRow(1, what="Walnut", amount="0.5 %", it_is="dye"),
        NotedRow(2, what="Walnut", amount="3 drops"),
        NotedRow(3, step="82 C", minute="40"),
    )
    recipe = Recipe(
        base=base or globals()["base"](),
        pot=NotedPot(per_100g=True),
        rows=rows,
        as_written="walnut, some drops more",
    )
    return take_in_notes(key=uuid.uuid4(), recipe=recipe, who=who or OwnerFactory())
