"""Ways of dyeing: kept once, never changed, scaled to any pot; a correction is a new way that says why."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime
from fractions import Fraction
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from recipes.dyeing.scaling import Basis, RuleAmount, Unit, scale
from recipes.dyeing.working import Exact, Figure
from recipes.models import Auxiliary, Base, Colourway, Dye, Rule, WayOfDyeing
from recipes.words import one_line


class WhyMissing(Refused):
    """A way that departs from another one does not say why."""


class NothingDeparts(Refused):
    """A correction that changes nothing."""


class NotAWay(Refused):
    """There is nothing to dye by: no step at all."""


@dataclass(frozen=True, slots=True)
class RuleDraft:
    """One step of a way that is not kept yet; the fields are those of Rule.

    `thousandths` are micrograms or nanolitres (by `unit`) per kilogram of dry fibre, per litre of bath, per piece or per
    pot (by `basis`). An addition to a reading keeps in them what it took, per kilogram of dry fibre, as a guide.
    `technique` is what the step is of, or how an addition is put on; `hanks` are of the pot that the way was learned from.
    `minute` counts from the first entry of that pot.
    """

    kind: str
    dye: Dye | None = None
    auxiliary: Auxiliary | None = None
    basis: str = ""
    unit: str = ""
    thousandths: int | None = None
    strength_mg_per_litre: int | None = None
    ph_hundredths: int | None = None
    centi_celsius: int | None = None
    heat_on: bool | None = None
    as_typed: str = ""
    text: str = ""
    technique: str = ""
    seconds: int | None = None
    millimetres: int | None = None
    hanks: int | None = None
    section: str = ""
    minute: int | None = None

    @property
    def is_addition(self) -> bool:
        return self.kind in ADDED

    @classmethod
    def of(cls, rule: Rule) -> RuleDraft:
        """A kept rule as a draft, to start a correction from."""
        return cls(**{name: getattr(rule, name) for name in cls.__dataclass_fields__})


#: What goes into the pot, rather than what is read or done there.
ADDED = (Rule.Kind.DYE, Rule.Kind.AUXILIARY, Rule.Kind.WATER)


@dataclass(frozen=True, slots=True)
class WayFacts:
    """What the pot of a way was like; None and an empty text are "not known"."""

    dry_milligrams: int | None = None
    bath_microlitres: int | None = None
    pieces: int | None = None
    vessel_name: str = ""
    presoak_minutes: int | None = None
    lay: str = ""
    lay_plan: Mapping[str, Any] = field(default_factory=dict)
    cleared: str = ""
    cooling: str = ""

    @classmethod
    def of(cls, way: WayOfDyeing) -> WayFacts:
        return cls(**{name: getattr(way, name) for name in cls.__dataclass_fields__})

    @property
    def size(self) -> PotSize:
        return PotSize(self.dry_milligrams, self.bath_microlitres, self.pieces)


@dataclass(frozen=True, slots=True)
class Notes:
    """That a way is from notes and was not dyed here: when they were written, and their own words."""

    noted_on: dt.date | None = None
    as_written: str = ""

    @classmethod
    def of(cls, way: WayOfDyeing) -> Notes:
        return cls(way.noted_on, way.as_written)


@dataclass(frozen=True, slots=True)
class PotSize:
    """What amounts are scaled to: dry fibre, bath and count of one pot, None where not known."""

    dry_milligrams: Exact | None = None
    bath_microlitres: Exact | None = None
    pieces: Exact | None = None

    def holding(self, pieces: Exact) -> PotSize:
        """The same pieces in the same liquor ratio, but so many of them."""
        if not self.pieces:
            return PotSize(pieces=pieces)
        return self._times(Fraction(pieces) / Fraction(self.pieces))

    def weighing(self, dry_milligrams: int) -> PotSize:
        """The same pieces in the same liquor ratio, but weighing so much."""
        if not self.dry_milligrams:
            return PotSize(dry_milligrams=dry_milligrams)
        return self._times(Fraction(dry_milligrams) / Fraction(self.dry_milligrams))

    def _times(self, factor: Fraction) -> PotSize:
        return PotSize(
            *(
                None if each is None else Fraction(each) * factor
                for each in (self.dry_milligrams, self.bath_microlitres, self.pieces)
            )
        )


def amount_of(rule: Rule | RuleDraft) -> RuleAmount | None:
    """The amount of a rule by its basis, for scaling; None for what is no addition.

    An addition to a reading gives what it took last time, by the fibre: the reading is the rule, the amount a guide.
    """
    if rule.kind not in ADDED:
        return None
    if rule.thousandths is None:
        if rule.as_typed:
            return RuleAmount.measured_loosely(rule.as_typed)
        return RuleAmount(Basis(rule.basis)) if rule.basis else None
    basis = Basis.FIBRE if rule.basis == Basis.READING else Basis(rule.basis)
    return RuleAmount.from_thousandths(basis, Unit(rule.unit), rule.thousandths)


def amount_in(rule: Rule | RuleDraft, size: PotSize) -> Figure[Fraction] | None:
    """What a rule asks of a pot, in exact milligrams or microlitres (by its unit), with its working.

    None where there is nothing to reckon: a reading, a note, a spoon or a pinch. Raises BasisNeeds when the pot's dry
    weight, bath or count is not known and the basis needs it.
    """
    amount = amount_of(rule)
    if amount is None:
        return None
    return scale(
        amount,
        dry_milligrams=size.dry_milligrams,
        bath_microlitres=size.bath_microlitres,
        pieces=size.pieces,
    )


def rules_of(way: WayOfDyeing) -> list[Rule]:
    """The rules of a way in their order, with the dye or auxiliary of each. One query."""
    return list(Rule.objects.filter(way=way).select_related("dye", "auxiliary").order_by("number"))


def drafts_of(way: WayOfDyeing) -> list[RuleDraft]:
    """The steps of a way, to start a correction from."""
    return [RuleDraft.of(rule) for rule in rules_of(way)]


def newest_way(*, colourway: Colourway, base: Base) -> WayOfDyeing | None:
    """The way of dyeing a colourway on a base that was made last."""
    return WayOfDyeing.objects.filter(colourway=colourway, base=base).order_by("-number").first()


@transaction.atomic
def keep_way(
    *,
    colourway: Colourway,
    base: Base,
    rules: Sequence[RuleDraft],
    facts: WayFacts,
    who: User,
    departs_from: WayOfDyeing | None = None,
    why: str = "",
    made_at: datetime | None = None,
    notes: Notes | None = None,
    key: UUID | None = None,
) -> WayOfDyeing:
    """Keep a way of dyeing with its rules under the next number. It never changes from then on.

    `notes` mark it as from notes, `key` as what was sent with it; the same key is kept once by its caller.

    Raises NotAWay without a step, WhyMissing when it departs from another way and gives no reason.
    """
    why = one_line(why)[:300]
    if not rules:
        raise NotAWay("There is no step to keep. Write down what goes into the pot first.")
    if departs_from is not None and not why:
        raise WhyMissing("Say why it departs, for example “came out too light”.")
    # The colourway's row lets two people who keep a way at once come one after the other.
    Colourway.objects.select_for_update().get(pk=colourway.pk)
    last = WayOfDyeing.objects.filter(colourway=colourway, base=base).aggregate(last=Max("number"))["last"]
    way = WayOfDyeing.objects.create(
        colourway=colourway,
        base=base,
        number=(last or 0) + 1,
        departs_from=departs_from,
        why=why,
        made_at=made_at or timezone.now(),
        made_by=who,
        key=key,
        **({"from_notes": True, **asdict(notes)} if notes is not None else {}),
        **{name: getattr(facts, name) for name in WayFacts.__dataclass_fields__},
    )
    Rule.objects.bulk_create(
        Rule(way=way, number=number, **_fields(draft)) for number, draft in enumerate(rules, start=1)
    )
    return way


def _fields(draft: RuleDraft) -> dict[str, object]:
    return {name: getattr(draft, name) for name in RuleDraft.__dataclass_fields__}


@transaction.atomic
def depart(
    *,
    way: WayOfDyeing,
    rules: Sequence[RuleDraft],
    why: str,
    who: User,
    facts: WayFacts | None = None,
    made_at: datetime | None = None,
    notes: Notes | None = None,
) -> WayOfDyeing:
    """Correct a way of dyeing: a new one is kept that says what it departs from and why; the old one stays as it was.

    `facts` None keeps the pot as the old way knew it; `notes` those that the old one is still marked as from. The same correction sent again returns the first.
    Raises WhyMissing, NotAWay, and NothingDeparts when nothing is changed.
    """
    said = one_line(why)[:300]
    kept = facts or WayFacts.of(way)
    if same_way(drafts_of(way), WayFacts.of(way), rules, kept):
        raise NothingDeparts("Nothing is changed. Change an amount or a step, or leave the way as it is.")
    newest = way.corrections.order_by("-id").first()
    if (
        newest is not None
        and newest.why == said
        and newest.made_by_id == who.pk
        and same_way(drafts_of(newest), WayFacts.of(newest), rules, kept)
    ):
        return newest
    return keep_way(
        colourway=way.colourway,
        base=way.base,
        rules=rules,
        facts=kept,
        who=who,
        departs_from=way,
        why=said,
        made_at=made_at,
        notes=notes,
    )


def same_way(
    rules: Iterable[RuleDraft], facts: WayFacts, other_rules: Iterable[RuleDraft], other_facts: WayFacts
) -> bool:
    """Whether two ways say the same in every step and fact."""
    return facts == other_facts and list(rules) == list(other_rules)
