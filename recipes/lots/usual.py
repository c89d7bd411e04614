"""What is usual for one pot: the published amounts for its dyes, fibres and depth, each as a line for its log."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from dyehouse.studio.models import Studio
from recipes.dyeing.doses import Says
from recipes.dyeing.rounding import round_to_step
from recipes.dyeing.scaling import Unit
from recipes.dyeing.substances import substance_of
from recipes.dyeing.units import format_grams, format_millilitres
from recipes.dyeing.usual import Fibres, Here, Load, Own, Said, Usual, UsualDose, UsualThing, usual_for
from recipes.dyeing.working import Source, Working
from recipes.lots.contents import PotContents, what_is_in
from recipes.lots.in_store import fibres_of
from recipes.lots.models import Pot, PotLoad
from recipes.lots.redye_amounts import Bench, studio_bench
from recipes.models import Auxiliary, Dye


@dataclass(frozen=True, slots=True)
class Offer:
    """One amount as this studio can measure it: in words, how it came about, and as a line for the pot's log.

    The line is empty where nothing of it stands in the store, or where as much is in the pot already (`enough`).
    """

    words: str
    working: Working
    line: str = ""
    of: str = ""
    enough: bool = False


@dataclass(frozen=True, slots=True)
class Cite:
    """A source by its number in the list at the end, and how well it is known."""

    number: int
    source: Source

    @property
    def words(self) -> str:
        return f"source {self.number}, {self.source.standing.value}"


class Cited:
    """The sources of a page, numbered in the order that they come up."""

    def __init__(self) -> None:
        self.sources: list[Source] = []

    def cite(self, source: Source) -> Cite:
        """The number of a source, a new one where it comes up first."""
        if source not in self.sources:
            self.sources.append(source)
        return Cite(self.sources.index(source) + 1, source)


@dataclass(frozen=True, slots=True)
class CitedSaying:
    """A sentence with its source."""

    sentence: str
    cite: Cite


@dataclass(frozen=True, slots=True)
class DoseLine:
    """One publication's word on a substance, with its amounts for this pot."""

    usual: UsualDose
    offers: tuple[Offer, ...]
    cite: Cite

    @property
    def never(self) -> bool:
        return self.usual.never

    @property
    def loosely(self) -> bool:
        return self.usual.dose.how is Says.LOOSELY


@dataclass(frozen=True, slots=True)
class ThingLines:
    """A substance with what is published of it, and what of it is in the pot already."""

    thing: UsualThing
    lines: tuple[DoseLine, ...]
    inside: str = ""


@dataclass(frozen=True, slots=True)
class UsualPart:
    """The dyes of one class on the fibres of one kind."""

    usual: Usual
    process: CitedSaying
    targets: tuple[CitedSaying, ...]
    things: tuple[ThingLines, ...]
    sayings: tuple[CitedSaying, ...]
    water: tuple[Offer, ...] = ()
    water_cite: Cite | None = None


@dataclass(frozen=True, slots=True)
class UsualPage:
    """What is usual in one pot, or in so much yarn and bath. `notes` are sentences on what is not known."""

    parts: list[UsualPart]
    dry_milligrams: int | None
    bath_microlitres: int | None
    notes: list[str]
    sources: list[Source]
    bath_is_planned: bool = False


def own_auxiliaries(auxiliaries: Iterable[Auxiliary] | None = None) -> list[Own]:
    """The studio's auxiliaries whose substance can be told. One query where none are given."""
    if auxiliaries is None:
        auxiliaries = Auxiliary.objects.filter(retired_at__isnull=True).order_by("name")
    found = []
    for each in auxiliaries:
        thing = substance_of(each.name, each.role)
        if thing:
            strength = each.strength_hundredths_percent
            found.append(
                Own(
                    each.pk,
                    each.name,
                    thing,
                    each.is_liquid,
                    Fraction(strength, 100) if strength else None,
                )
            )
    return found


def fibres_of_loads(loads: Sequence[PotLoad]) -> tuple[Fibres, bool, list[str]]:
    """The fibres of all that lies in a pot by weight, whether any of it is superwash, and the bases not known. One query."""
    by_base = fibres_of(load.put_up.base_id for load in loads)
    weights: dict[str, int] = {}
    unknown: list[str] = []
    for load in loads:
        fibres = by_base.get(load.put_up.base_id, ())
        if not fibres and load.put_up.base.name not in unknown:
            unknown.append(load.put_up.base.name)
        for slug, share in fibres:
            weights[slug] = weights.get(slug, 0) + share * load.dry_milligrams
    whole = sum(weights.values())
    shares = sorted(weights.items(), key=lambda each: -each[1])
    superwash = any(load.put_up.base.superwash for load in loads)
    return tuple((slug, max(1, weight * 1000 // whole)) for slug, weight in shares), superwash, unknown


def usual_in_pot(pot: Pot, *, loads: Sequence[PotLoad], studio: Studio) -> UsualPage:
    """What is usual for what is in a pot so far. The loads come with their put-ups and bases."""
    contents = what_is_in(pot)
    fibres, superwash, unknown = fibres_of_loads(loads)
    bath = contents.bath_microlitres or pot.planned_bath_microlitres
    notes = [f"The fibres of {name} are not known. Write them down on its page." for name in unknown]
    if pot.bath_from_id is not None:
        notes.append(
            "This bath was used before: the acid and salt that it still holds are not reckoned here."
        )
    dyes = [(each.dye, each.depth_percent) for each in contents.dyes]
    if not dyes:
        planned = pot.planned.filter(rule__dye__isnull=False).select_related("rule__dye")
        dyes = [(step.rule.dye, None) for step in planned if step.rule is not None and step.rule.dye]
    return _page(
        dyes=dyes,
        fibres=fibres,
        superwash=superwash,
        load=Load(contents.dry_milligrams or None, bath),
        studio=studio,
        inside=_inside(contents),
        notes=notes,
        planned=not contents.bath_microlitres,
    )


def usual_with(
    *,
    dyes: Sequence[tuple[Dye, Fraction | None]],
    fibres: Fibres,
    superwash: bool | None,
    load: Load,
    studio: Studio,
    bench: Bench | None = None,
    own: Sequence[Own] | None = None,
) -> UsualPage:
    """What is usual with dyes on fibres, for so much of them. Two queries where no bench and auxiliaries are given."""
    return _page(
        dyes=dyes,
        fibres=fibres,
        superwash=superwash,
        load=load,
        studio=studio,
        inside={},
        notes=[],
        bench=bench,
        own=own,
    )


def _page(
    *,
    dyes: Sequence[tuple[Dye, Fraction | None]],
    fibres: Fibres,
    superwash: bool | None,
    load: Load,
    studio: Studio,
    inside: Mapping[int, tuple[int, int]],
    notes: list[str],
    planned: bool = False,
    bench: Bench | None = None,
    own: Sequence[Own] | None = None,
) -> UsualPage:
    tools = bench or studio_bench()
    unnamed = Dye.Class.ACID_UNKNOWN.value
    asked = [(dye.name, str(dye.dye_class), depth) for dye, depth in dyes] or [("", unnamed, None)]
    if not dyes:
        notes.append("No dye is in yet, so this is for an acid dye whose class is not known.")
    if not load.bath_microlitres and load.dry_milligrams:
        notes.append("The litres of the bath are not written down, so nothing is reckoned by the litre.")
    alkalinity = studio.water_alkalinity_mg_per_litre
    found = usual_for(
        dyes=asked,
        fibres=fibres,
        superwash=superwash,
        load=load,
        own=own_auxiliaries() if own is None else own,
        alkalinity_mg_per_litre=alkalinity,
    )
    if alkalinity is None and any(each.process.kind == "acid" for each in found):
        notes.append(
            "The alkalinity of the studio's water is not written down, so the acid that it uses up is not reckoned."
        )
    cited = Cited()
    return UsualPage(
        parts=[_part(each, tools, inside, cited) for each in found],
        dry_milligrams=load.dry_milligrams,
        bath_microlitres=load.bath_microlitres,
        notes=notes,
        sources=cited.sources,
        bath_is_planned=planned and load.bath_microlitres is not None,
    )


def _inside(contents: PotContents) -> dict[int, tuple[int, int]]:
    """Milligrams and microlitres of each auxiliary that is in, by its number."""
    return {each.auxiliary.pk: (each.milligrams, each.microlitres) for each in contents.auxiliaries}


def _part(usual: Usual, bench: Bench, inside: Mapping[int, tuple[int, int]], cited: Cited) -> UsualPart:
    # In the order of the page, so that the numbers count upwards.
    return UsualPart(
        usual=usual,
        process=CitedSaying(usual.process.sentence, cited.cite(usual.process.source)),
        targets=_sayings(usual.targets, cited),
        things=tuple(_thing(thing, bench, inside, cited) for thing in usual.things),
        water=tuple(_offer(here, bench, {}) for here in usual.water_in),
        water_cite=cited.cite(usual.water.working.source) if usual.water is not None else None,
        sayings=_sayings(usual.sayings, cited),
    )


def _sayings(said: Iterable[Said], cited: Cited) -> tuple[CitedSaying, ...]:
    return tuple(CitedSaying(each.sentence, cited.cite(each.source)) for each in said)


def _thing(
    thing: UsualThing, bench: Bench, inside: Mapping[int, tuple[int, int]], cited: Cited
) -> ThingLines:
    lines = tuple(
        DoseLine(
            dose,
            tuple(_offer(here, bench, inside) for here in dose.amounts),
            cited.cite(dose.dose.source),
        )
        for dose in thing.doses
    )
    own = next((here.own for dose in thing.doses for here in dose.amounts if here.own is not None), None)
    there = ""
    if own is not None and own.pk in inside:
        milligrams, microlitres = inside[own.pk]
        amounts = [
            words
            for words in (
                format_millilitres(microlitres) if microlitres else "",
                format_grams(milligrams) if milligrams else "",
            )
            if words
        ]
        there = f"{' and '.join(amounts)} of {own.name} in so far"
    return ThingLines(thing, lines, there)


def _offer(here: Here, bench: Bench, inside: Mapping[int, tuple[int, int]]) -> Offer:
    """An amount rounded to what the studio can measure; its line asks for what is still wanting."""
    exact, liquid = here.figure.value, here.unit is Unit.UL
    tool = bench.cylinder_step(exact) if liquid else bench.scale_step(exact)
    step = max(tool, _third_digit(exact))
    shown = format_millilitres if liquid else format_grams
    amount = round_to_step(exact, step)
    words = shown(amount) if amount else f"less than {shown(step)}" if exact else "none"
    if here.own is None:
        return Offer(words, here.figure.working)
    milligrams, microlitres = inside.get(here.own.pk, (0, 0))
    wanted = amount - (microlitres if liquid else milligrams)
    if wanted <= 0:
        return Offer(words, here.figure.working, of=here.own.name, enough=amount > 0)
    return Offer(
        words, here.figure.working, line=f"{shown(wanted)} {_as_typed(here.own.name)}", of=here.own.name
    )


def _third_digit(amount: Fraction) -> int:
    """The size of an amount's third digit: what is usual is not known better than that."""
    return int(10 ** max(len(str(int(amount))) - 3, 0))


def _as_typed(name: str) -> str:
    """A name as one thing of a pot line, where a comma would end it."""
    return " ".join(name.replace(",", " ").replace(";", " ").split())
