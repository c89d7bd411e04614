"""What is sold before it is dyed: products with their choices, limits, days and prices."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from django.db import transaction
from django.utils import timezone

from dyehouse.studio.refusals import Refused
from inventory.models import Kit
from inventory.promises.models import Offer, OrderLine, Product
from recipes.models import Colourway, PutUp
from recipes.words import one_line


class NotAProduct(Refused):
    """A product without a name, or without a choice."""


class ProductNameTaken(Refused):
    """Another product goes by this name."""


class ProductDays(Refused):
    """Its days are not in order."""


class ChoicesUnclear(Refused):
    """Two choices of one name, or one that is of nothing."""


class SoldAlready(Refused):
    """What was ordered of a choice cannot be turned into something else."""


@dataclass(frozen=True, slots=True)
class OfferFacts:
    """One choice: a kit, or a colourway on a put-up. `pk` is that of a choice there is."""

    name: str = ""
    kit: Kit | None = None
    colourway: Colourway | None = None
    put_up: PutUp | None = None
    price_minor: int | None = None
    most: int | None = None
    pk: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductFacts:
    """All that is written down of a product, its choices aside."""

    name: str
    kind: str = Product.Kind.PREORDER
    most: int | None = None
    deposit_minor: int | None = None
    balance_due: dt.date | None = None
    opens_on: dt.date | None = None
    closes_on: dt.date | None = None
    ships_on: dt.date | None = None
    weeks_promised: int | None = None
    secret_until: dt.datetime | None = None
    names_on_sealed_paper: bool = False
    insert_words: str = ""
    spares_percent: int = 5
    spares_until: dt.date | None = None


@transaction.atomic
def make_product(*, facts: ProductFacts, offers: Sequence[OfferFacts]) -> Product:
    """Write a product down. Raises NotAProduct, ProductNameTaken, ProductDays, ChoicesUnclear."""
    kept = _checked(facts)
    if not offers:
        raise NotAProduct("A product has at least one choice: a kit, or a colourway on a yarn.")
    made = Product.objects.create(made_at=timezone.now(), **kept)
    _keep_offers(made, offers)
    return made


@transaction.atomic
def change_product(*, product: Product, facts: ProductFacts, offers: Sequence[OfferFacts]) -> Product:
    """Write down what is true of a product now. A choice left out is not offered any more; its orders stand.

    Raises as `make_product`, and SoldAlready when an ordered choice would become something else.
    """
    locked = Product.objects.select_for_update().get(pk=product.pk)
    kept = _checked(facts, other_than=locked)
    if not offers:
        raise NotAProduct("A product has at least one choice: a kit, or a colourway on a yarn.")
    for name, value in kept.items():
        setattr(locked, name, value)
    locked.save(update_fields=list(kept))
    _keep_offers(locked, offers)
    return locked


def _checked(facts: ProductFacts, other_than: Product | None = None) -> dict[str, Any]:
    kept = {**asdict(facts), "name": one_line(facts.name)[:120], "insert_words": facts.insert_words.strip()}
    if not kept["name"]:
        raise NotAProduct("Write what it is called.")
    others = Product.objects.filter(name__iexact=kept["name"])
    if other_than is not None:
        others = others.exclude(pk=other_than.pk)
    if others.exists():
        raise ProductNameTaken(f"There is a product called {kept['name']} already. Choose another name.")
    days = [
        ("orders open", facts.opens_on),
        ("orders close", facts.closes_on),
        ("the balance is due", facts.balance_due),
        ("it ships", facts.ships_on),
    ]
    said = [(what, day) for what, day in days if day is not None]
    for (first, one), (then, other) in itertools.pairwise(said):
        if other < one:
            raise ProductDays(f"The day {then} is before the day {first}. Put one of them right.")
    return kept


def _keep_offers(product: Product, offers: Sequence[OfferFacts]) -> None:
    known = {offer.pk: offer for offer in product.offers.all()}
    names = [one_line(offer.name)[:60].casefold() for offer in offers]
    if len(set(names)) < len(names):
        raise ChoicesUnclear(
            "Two choices have the same name. Name each after its base, or what sets it apart."
        )
    kept = set()
    for facts in offers:
        of_kit, of_colourway = facts.kit is not None, facts.colourway is not None and facts.put_up is not None
        if of_kit == of_colourway:
            raise ChoicesUnclear("Each choice is either a kit, or a colourway on a yarn.")
        values = {
            "name": one_line(facts.name)[:60],
            "kit": facts.kit,
            "colourway": facts.colourway if of_colourway else None,
            "put_up": facts.put_up if of_colourway else None,
            "price_minor": facts.price_minor,
            "most": facts.most,
        }
        offer = known.get(facts.pk) if facts.pk is not None else None
        if offer is None:
            kept.add(Offer.objects.create(product=product, **values).pk)
            continue
        changed = (offer.kit, offer.colourway, offer.put_up) != (
            values["kit"],
            values["colourway"],
            values["put_up"],
        )
        if changed and OrderLine.objects.filter(offer=offer, cancelled_at=None).exists():
            raise SoldAlready(f"{offer} was ordered already. Add a choice beside it instead.")
        for name, value in values.items():
            setattr(offer, name, value)
        offer.retired_at = None
        offer.save()
        kept.add(offer.pk)
    now = timezone.now()
    for pk, offer in known.items():
        if pk not in kept and offer.retired_at is None:
            offer.retired_at = now
            offer.save(update_fields=["retired_at"])
