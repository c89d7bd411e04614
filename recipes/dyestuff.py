"""Dyes in their jars, stock solutions in their bottles, and the auxiliaries beside them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Item, Lot, Movement
from dyehouse.ledger.operations import Bucket, Step, post
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from recipes.counting import ReasonMissing, count_in_store, in_store
from recipes.dyeing.depth import powder_for_stock
from recipes.dyeing.units import format_grams, whole
from recipes.models import Auxiliary, Dye, Jar, StockBottle
from recipes.words import one_line


class DyeNameTaken(Refused):
    """Another dye has this name."""


class JarTaken(Refused):
    """The dye has a jar of this label already."""


class NothingInIt(Refused):
    """A jar, a bottle or a delivery of nothing, or more dye than its jar weighs."""


class TareUnknown(Refused):
    """A jar cannot be counted by weighing while the weight of the empty jar is not known."""


class AuxiliaryNameTaken(Refused):
    """Another auxiliary has this name."""


class WrongJar(Refused):
    """The jar is of another dye, or no jar was named for a stock made now."""


@transaction.atomic
def add_dye(
    *,
    name: str,
    dye_class: str = Dye.Class.ACID_UNKNOWN,
    ci_name: str = "",
    strength_of_type_percent: int = 100,
    strongest_stock_mg_per_litre: int | None = None,
    sds_url: str = "",
    chip: str = "",
) -> Dye:
    """Write down a dye. A name is enough; its class is “acid, class unknown” until it is known. Raises DyeNameTaken."""
    name = one_line(name)
    refuse_taken_dye_name(name)
    return Dye.objects.create(
        name=name,
        dye_class=dye_class,
        ci_name=one_line(ci_name),
        strength_of_type_percent=strength_of_type_percent,
        strongest_stock_mg_per_litre=strongest_stock_mg_per_litre,
        sds_url=sds_url,
        chip=chip,
        item=Item.objects.create(kind=Item.Kind.DYE, unit=Item.Unit.MILLIGRAM, name=name),
        stock_item=Item.objects.create(
            kind=Item.Kind.STOCK, unit=Item.Unit.MICROLITRE, name=f"{name}, stock"
        ),
    )


@transaction.atomic
def change_dye(
    *,
    dye: Dye,
    name: str,
    dye_class: str,
    ci_name: str = "",
    strength_of_type_percent: int = 100,
    strongest_stock_mg_per_litre: int | None = None,
    sds_url: str = "",
    chip: str = "",
) -> Dye:
    """Put right what is known of a dye. Raises DyeNameTaken."""
    name = one_line(name)
    refuse_taken_dye_name(name, other_than=dye)
    dye.name = name
    dye.dye_class = dye_class
    dye.ci_name = one_line(ci_name)
    dye.strength_of_type_percent = strength_of_type_percent
    dye.strongest_stock_mg_per_litre = strongest_stock_mg_per_litre
    dye.sds_url = sds_url
    dye.chip = chip
    dye.save()
    Item.objects.filter(pk=dye.item_id).update(name=name)
    Item.objects.filter(pk=dye.stock_item_id).update(name=f"{name}, stock")
    return dye


def refuse_taken_dye_name(name: str, *, other_than: Dye | None = None) -> None:
    """Raise DyeNameTaken when another dye has this name, however it is capitalised."""
    others = Dye.objects.filter(name__iexact=name)
    if other_than is not None:
        others = others.exclude(pk=other_than.pk)
    if others.exists():
        raise DyeNameTaken(
            f"There is a dye called {name} already. Choose another name, or add a jar to that one."
        )


@transaction.atomic
def add_jar(
    *,
    key: UUID,
    dye: Dye,
    label: str,
    milligrams: int,
    who: User,
    gross_milligrams: int | None = None,
    tare_milligrams: int | None = None,
    opened_on: dt.date | None = None,
    from_before: bool = False,
    happened_at: dt.datetime | None = None,
    besides: Iterable[str] = (),
) -> Jar:
    """Take a jar of dye powder into the store. An empty label becomes “jar 1”, “jar 2” and so on, none of `besides`.

    When gross and no tare is given, the empty jar is what is left after the powder: gross − milligrams.
    The same key again returns the jar that the first call made. Raises JarTaken, NothingInIt.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return Jar.objects.select_related("dye").get(lot__lines__movement=first)
    # The dye's row serialises two jars that would be numbered alike.
    dye = Dye.objects.select_for_update().select_related("item").get(pk=dye.pk)
    if milligrams < 1:
        raise NothingInIt("A jar holds more than 0 g of dye. Write how much is in it.")
    if gross_milligrams is not None and tare_milligrams is None:
        tare_milligrams = gross_milligrams - milligrams
        if tare_milligrams < 0:
            raise NothingInIt(
                f"The jar weighs {format_grams(gross_milligrams)} with its dye, which is less than the dye alone "
                f"({format_grams(milligrams)}). Weigh it again with jar and lid."
            )
    label = one_line(label) or _next_jar_label(dye, besides)
    if Jar.objects.filter(dye=dye, label__iexact=label).exists():
        raise JarTaken(f"{dye.name} has a jar labelled {label} already. Write another label.")
    lot = Lot.objects.create(kind=Lot.Kind.JAR, name=f"{dye.name} {label}")
    jar = Jar.objects.create(
        dye=dye,
        label=label,
        gross_milligrams=gross_milligrams,
        tare_milligrams=tare_milligrams,
        opened_on=opened_on,
        lot=lot,
    )
    came_from = fixed_place("before_the_house" if from_before else "supplier")
    post(
        key=key,
        who=who,
        steps=[Step(dye.item, lot, milligrams, Bucket(came_from), Bucket(fixed_place("store")))],
        why="There before the house" if from_before else "Arrived",
        source="store:jar",
        happened_at=happened_at,
    )
    return jar


def _next_jar_label(dye: Dye, besides: Iterable[str]) -> str:
    there = Jar.objects.filter(dye=dye).values_list("label", flat=True)
    taken = {label.lower() for label in there}
    number = len(taken) + 1
    taken |= {one_line(label).lower() for label in besides}
    while f"jar {number}" in taken:
        number += 1
    return f"jar {number}"


@transaction.atomic
def set_tare(*, jar: Jar, tare_milligrams: int) -> Jar:
    """Write down what the empty jar weighs, so that it can be counted by weighing."""
    jar.tare_milligrams = tare_milligrams
    jar.save(update_fields=["tare_milligrams"])
    return jar


@transaction.atomic
def weigh_jar(
    *,
    key: UUID,
    jar: Jar,
    gross_milligrams: int,
    who: User,
    why: str = "",
    happened_at: dt.datetime | None = None,
) -> Movement | None:
    """Count a jar by one weighing: gross − tare is what is in it; the difference to the book is posted.

    Returns None when the book was right. Raises TareUnknown, NothingInIt.
    """
    if jar.tare_milligrams is None:
        raise TareUnknown(
            "What the empty jar weighs is not known. Write its tare first, or count the dye by itself."
        )
    left = gross_milligrams - jar.tare_milligrams
    if left < 0:
        raise NothingInIt(
            f"{format_grams(gross_milligrams)} is less than the empty jar, {format_grams(jar.tare_milligrams)}. "
            "Weigh it with its lid, or put the tare right."
        )
    return count_in_store(
        key=key,
        item=jar.dye.item,
        lot=jar.lot,
        counted=left,
        who=who,
        why=one_line(why) or f"Weighed {format_grams(gross_milligrams)} with the jar",
        happened_at=happened_at,
    )


@transaction.atomic
def make_stock(
    *,
    key: UUID,
    dye: Dye,
    jar: Jar | None,
    strength_mg_per_litre: int,
    microlitres: int,
    made_at: dt.datetime,
    who: User,
    best_before: dt.date | None = None,
    in_fridge: bool = False,
    from_before: bool = False,
) -> StockBottle:
    """Make a bottle of stock: its powder leaves the jar (what the book lacks is found), the stock is in the store.

    A bottle from before the house takes nothing from its jar and may have none.
    The same key again returns the bottle that the first call made. Raises WrongJar, NothingInIt.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return StockBottle.objects.select_related("dye", "jar").get(lot__lines__movement=first)
    if jar is None and not from_before:
        raise WrongJar("Say which jar the powder came from.")
    if jar is not None and jar.dye_id != dye.pk:
        raise WrongJar(f"Jar {jar.label} holds another dye. Choose a jar of {dye.name}.")
    if microlitres < 1 or strength_mg_per_litre < 1:
        raise NothingInIt("A bottle of stock has a strength and a volume above zero.")
    lot = Lot.objects.create(kind=Lot.Kind.BOTTLE, name=f"{dye.name} stock")
    bottle = StockBottle.objects.create(
        dye=dye,
        jar=jar,
        strength_mg_per_litre=strength_mg_per_litre,
        made_at=made_at,
        made_microlitres=microlitres,
        best_before=best_before,
        in_fridge=in_fridge,
        lot=lot,
    )
    Lot.objects.filter(pk=lot.pk).update(name=str(bottle))
    store = Bucket(fixed_place("store"))
    came_from = Bucket(fixed_place("before_the_house" if from_before else "made"))
    steps = [Step(dye.stock_item, lot, microlitres, came_from, store)]
    powder = whole(
        powder_for_stock(make_microlitres=microlitres, strength_mg_per_litre=strength_mg_per_litre).value
    )
    if jar is not None and not from_before and powder:
        steps.insert(0, Step(dye.item, jar.lot, powder, store, Bucket(fixed_place("consumed"))))
    post(
        key=key,
        who=who,
        steps=steps,
        why="There before the house" if from_before else f"Made {bottle} stock",
        source="store:stock",
        happened_at=made_at,
        find_missing=True,
    )
    return bottle


@transaction.atomic
def finish_bottle(*, key: UUID, bottle: StockBottle, who: User, why: str) -> StockBottle:
    """Put a bottle away for good. What the book says is left in it is written off with the reason.

    Finishing it again changes nothing. Raises ReasonMissing.
    """
    bottle = (
        StockBottle.objects.select_for_update().select_related("dye__stock_item", "lot").get(pk=bottle.pk)
    )
    if bottle.finished_at is None:
        write_off_rest(key=key, item=bottle.dye.stock_item, lot=bottle.lot, who=who, why=why)
        bottle.finished_at = timezone.now()
        bottle.save(update_fields=["finished_at"])
    return bottle


@transaction.atomic
def finish_jar(*, key: UUID, jar: Jar, who: User, why: str) -> Jar:
    """Put an empty or spoilt jar away for good. What the book says is left is written off with the reason.

    Finishing it again changes nothing. Raises ReasonMissing.
    """
    jar = Jar.objects.select_for_update().select_related("dye__item", "lot").get(pk=jar.pk)
    if jar.finished_at is None:
        write_off_rest(key=key, item=jar.dye.item, lot=jar.lot, who=who, why=why)
        jar.finished_at = timezone.now()
        jar.save(update_fields=["finished_at"])
    return jar


def write_off_rest(
    *, key: UUID, item: Item, lot: Lot, who: User, why: str, happened_at: dt.datetime | None = None
) -> None:
    """Write off what the store has of a lot that is put away for good. Raises ReasonMissing."""
    why = one_line(why)
    if not why:
        raise ReasonMissing("Say in a word why it is finished, for example “used up” or “too old”.")
    left = in_store(item=item, lot=lot)
    if left:
        store, gone = Bucket(fixed_place("store")), Bucket(fixed_place("written_off"))
        post(
            key=key,
            who=who,
            steps=[Step(item, lot, left, store, gone)],
            why=why,
            source="store:finished",
            happened_at=happened_at,
        )


@transaction.atomic
def add_auxiliary(
    *,
    name: str,
    role: str,
    form: str,
    strength_hundredths_percent: int | None = None,
    sds_url: str = "",
) -> Auxiliary:
    """Write down an acid, a salt, a leveller or another auxiliary; liquids in µl, powders in mg. Raises AuxiliaryNameTaken."""
    name = one_line(name)
    refuse_taken_auxiliary_name(name)
    unit = Item.Unit.MICROLITRE if form == Auxiliary.Form.LIQUID else Item.Unit.MILLIGRAM
    return Auxiliary.objects.create(
        name=name,
        role=role,
        form=form,
        strength_hundredths_percent=strength_hundredths_percent,
        sds_url=sds_url,
        item=Item.objects.create(kind=Item.Kind.AUXILIARY, unit=unit, name=name),
        lot=Lot.objects.create(kind=Lot.Kind.AUXILIARY, name=name),
    )


@transaction.atomic
def change_auxiliary(
    *,
    auxiliary: Auxiliary,
    name: str,
    role: str,
    strength_hundredths_percent: int | None = None,
    sds_url: str = "",
) -> Auxiliary:
    """Put right what is known of an auxiliary; liquid or powder it stays. Raises AuxiliaryNameTaken."""
    name = one_line(name)
    refuse_taken_auxiliary_name(name, other_than=auxiliary)
    auxiliary.name = name
    auxiliary.role = role
    auxiliary.strength_hundredths_percent = strength_hundredths_percent
    auxiliary.sds_url = sds_url
    auxiliary.save()
    Item.objects.filter(pk=auxiliary.item_id).update(name=name)
    return auxiliary


def refuse_taken_auxiliary_name(name: str, *, other_than: Auxiliary | None = None) -> None:
    """Raise AuxiliaryNameTaken when another auxiliary has this name, however it is capitalised."""
    others = Auxiliary.objects.filter(name__iexact=name)
    if other_than is not None:
        others = others.exclude(pk=other_than.pk)
    if others.exists():
        raise AuxiliaryNameTaken(
            f"There is an auxiliary called {name} already. Choose another name, or open that one."
        )


@transaction.atomic
def receive_auxiliary(
    *,
    key: UUID,
    auxiliary: Auxiliary,
    amount: int,
    who: User,
    from_before: bool = False,
    happened_at: dt.datetime | None = None,
) -> Movement:
    """Take an auxiliary into the store: microlitres of a liquid, milligrams of a powder.

    The same key again changes nothing. Raises NothingInIt.
    """
    if amount < 1:
        raise NothingInIt("More than nothing must arrive. Write how much there is.")
    came_from = fixed_place("before_the_house" if from_before else "supplier")
    return post(
        key=key,
        who=who,
        steps=[Step(auxiliary.item, auxiliary.lot, amount, Bucket(came_from), Bucket(fixed_place("store")))],
        why="There before the house" if from_before else "Arrived",
        source="store:auxiliary",
        happened_at=happened_at,
    )


@transaction.atomic
def stock_new_dye(
    *, key: UUID, who: User, jar: Mapping[str, Any], from_before: bool = False, **facts: Any
) -> Dye:
    """Write down a dye with its first jar, when there is any powder; `facts` as `add_dye`, `jar` as `add_jar` takes them.

    The same key again, once a jar came in by it, returns the dye that the first call made.
    Raises DyeNameTaken, JarTaken, NothingInIt.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return Dye.objects.get(item__lines__movement=first)
    dye = add_dye(**facts)
    if jar.get("milligrams"):
        add_jar(key=key, dye=dye, who=who, from_before=from_before, **jar)
    return dye


@transaction.atomic
def stock_new_auxiliary(
    *, key: UUID, who: User, amount: int = 0, from_before: bool = False, **facts: Any
) -> Auxiliary:
    """Write down an auxiliary and what is there of it; `facts` as `add_auxiliary` takes them.

    The same key again, once some came in by it, returns the one that the first call made. Raises AuxiliaryNameTaken.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return Auxiliary.objects.get(item__lines__movement=first)
    auxiliary = add_auxiliary(**facts)
    if amount:
        receive_auxiliary(key=key, auxiliary=auxiliary, amount=amount, who=who, from_before=from_before)
    return auxiliary
