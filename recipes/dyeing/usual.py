"""What is usual with a dye on a fibre at a depth: published amounts in this pot, side by side, with whose they are.

They are proposals to compare with, never an order. The process is decided by the dye and the fibre together; a pH is a
target, for which no amount is promised; the water's own alkalinity comes on top, where the studio's water is known.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from recipes.dyeing import sources
from recipes.dyeing.auxiliaries import FormUnknown, measured_acid, other_form_milligrams, swap_acid
from recipes.dyeing.bath import acid_for_alkalinity
from recipes.dyeing.classes import CLASSES, DyeClass, Process, process_for
from recipes.dyeing.doses import (
    FROM_NEAR_CLASS,
    WITH_ALKALI,
    Dose,
    Says,
    doses_on_protein,
)
from recipes.dyeing.fibres import BY_SLUG, POLYAMIDE, PROTEIN, SYNTHETIC
from recipes.dyeing.scaling import Basis, RuleAmount, Unit, scale
from recipes.dyeing.substances import SUBSTANCES, serves_as
from recipes.dyeing.temperatures import temperature_cap
from recipes.dyeing.units import format_celsius, format_number, format_ph
from recipes.dyeing.working import Figure, Source, Working

Fibres = tuple[tuple[str, int], ...]
_ACIDS = frozenset({"acetic", "citric", "sulphuric"})


@dataclass(frozen=True, slots=True)
class Own:
    """An auxiliary of the studio: its number, name and what it is; the strength of a liquid in percent, None not known."""

    pk: int
    name: str
    thing: str
    liquid: bool
    strength_percent: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Load:
    """The pot or sample that amounts are for: None is not known, and then no amount is reckoned."""

    dry_milligrams: int | None = None
    bath_microlitres: int | None = None


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence and whose it is."""

    sentence: str
    source: Source


@dataclass(frozen=True, slots=True)
class Here:
    """An amount of a dose in this pot: milligrams or microlitres, exact, of the studio's own auxiliary where it has one."""

    figure: Figure[Fraction]
    unit: Unit
    own: Own | None = None


@dataclass(frozen=True, slots=True)
class UsualDose:
    """One dose with its amounts here: one, or the two ends of a span; none where it has no weight or the pot no size.

    `wanting` says what would have to be known for an amount.
    """

    dose: Dose
    by: str
    amounts: tuple[Here, ...] = ()
    wanting: str = ""

    @property
    def never(self) -> bool:
        return self.dose.how is Says.NEVER

    @property
    def says_more(self) -> str:
        """The publication's own words, where they say more than what it goes by."""
        same = self.by in {self.dose.says, self.dose.says.replace(" of fibre", " of dry fibre")}
        return "" if same else self.dose.says


@dataclass(frozen=True, slots=True)
class UsualThing:
    """All that is published of one substance. `disagree` is true where one says never or they go by different bases."""

    slug: str
    name: str
    doses: tuple[UsualDose, ...]

    @property
    def disagree(self) -> str:
        """In a sentence how the doses disagree, or nothing."""
        hows = {dose.dose.how for dose in self.doses}
        if Says.NEVER in hows and len(hows) > 1:
            return "The published rules disagree: one says none at all."
        if len({dose.dose.basis for dose in self.doses}) > 1:
            return "The published rules go by different things: one by the fibre, one by the bath. Keep to the one that you took."
        return ""


@dataclass(frozen=True, slots=True)
class Usual:
    """What is usual for the dyes of one class on the fibres of one kind."""

    dye_class: DyeClass
    dyes: tuple[str, ...]
    fibres: Fibres
    process: Process
    targets: tuple[Said, ...] = ()
    things: tuple[UsualThing, ...] = ()
    sayings: tuple[Said, ...] = ()
    water: Figure[Fraction] | None = None
    water_in: tuple[Here, ...] = ()

    @property
    def fibre_words(self) -> str:
        return words_of_fibres(self.fibres)


def words_of_fibres(fibres: Fibres) -> str:
    """75 % wool, 25 % nylon; one fibre alone by its name."""
    if len(fibres) == 1:
        return BY_SLUG[fibres[0][0]].name
    return ", ".join(
        f"{format_number(Fraction(share, 10), 1)} % {BY_SLUG[slug].name}" for slug, share in fibres
    )


def usual_for(
    *,
    dyes: Iterable[tuple[str, str, Fraction | None]],
    fibres: Fibres,
    superwash: bool | None = None,
    load: Load | None = None,
    own: Sequence[Own] = (),
    alkalinity_mg_per_litre: int | None = None,
) -> list[Usual]:
    """What is usual for dyes on a base, class by class and kind of fibre by kind of fibre.

    `dyes` are (name, class, depth in percent); the depths of one class are added up, None is not known. `fibres` are (slug,
    tenths of a percent); none is "not known", which is taken as what the class is mostly for.
    """
    classes: dict[str, list[tuple[str, Fraction | None]]] = {}
    for name, dye_class, depth in dyes:
        classes.setdefault(dye_class, []).append((name, depth))
    found = []
    for dye_class, members in classes.items():
        depths = [depth for _, depth in members if depth is not None]
        for part in _kinds(fibres):
            found.append(
                _one(
                    dye_class,
                    tuple(name for name, _ in members if name),
                    part,
                    mixed=len(_kinds(fibres)) > 1,
                    depth=sum(depths, Fraction(0)) if depths else None,
                    superwash=superwash,
                    load=load or Load(),
                    own=own,
                    alkalinity=alkalinity_mg_per_litre,
                )
            )
    return _water_once(found)


def _water_once(found: list[Usual]) -> list[Usual]:
    """The bath is one, so what its water uses up is told once, with the first that goes on with acid."""
    first = next((at for at, each in enumerate(found) if each.water is not None), None)
    return [each if at == first else replace(each, water=None, water_in=()) for at, each in enumerate(found)]


def _kinds(fibres: Fibres) -> list[Fibres]:
    """The fibres parted by how they dye: wool, hair, silk and nylon together; cellulose; synthetics. Most of it first."""
    known = sorted(((slug, share) for slug, share in fibres if slug in BY_SLUG), key=lambda fibre: -fibre[1])
    parts: dict[str, list[tuple[str, int]]] = {}
    for slug, share in known:
        kind = BY_SLUG[slug].kind
        parts.setdefault(PROTEIN if kind == POLYAMIDE else kind, []).append((slug, share))
    return [tuple(part) for part in parts.values()] or [()]


def _one(
    dye_class: str,
    names: tuple[str, ...],
    fibres: Fibres,
    *,
    mixed: bool,
    depth: Fraction | None,
    superwash: bool | None,
    load: Load,
    own: Sequence[Own],
    alkalinity: int | None,
) -> Usual:
    slugs = [slug for slug, _ in fibres]
    process = process_for(dye_class, slugs)
    if SYNTHETIC in {BY_SLUG[slug].kind for slug in slugs}:
        process = Process(
            "none", "It takes none of the dyes of this house and stays as it is.", sources.DEFINITION
        )
    elif not fibres and process.kind == "unknown":
        process = Process(
            "unknown",
            "How this dye goes on is decided by the fibre, and the base's fibres are not known. Write them down.",
            sources.DEFINITION,
        )
    usual = Usual(CLASSES[dye_class], names, fibres, process)
    sayings = _sayings(dye_class, fibres, superwash, process.kind, mixed)
    if process.kind == "acid":
        doses: Sequence[Dose] = doses_on_protein(dye_class, fibres)
        water, water_in = _for_the_water(alkalinity, load, own)
        usual = replace(usual, targets=_targets(dye_class, fibres, superwash), water=water, water_in=water_in)
    elif process.kind == "alkali":
        doses = WITH_ALKALI.get(dye_class, ())
        if dye_class == "cold_reactive":
            target = Said("About pH 10.5 once the soda ash is in.", sources.SODA_BY_WATER)
            usual = replace(usual, targets=(target,))
    else:
        doses = ()
    things: dict[str, list[UsualDose]] = {}
    for dose in doses:
        things.setdefault(dose.thing, []).append(_dose_here(dose, depth, load, own))
    return replace(
        usual,
        things=tuple(UsualThing(slug, SUBSTANCES[slug].name, tuple(each)) for slug, each in things.items()),
        sayings=sayings,
    )


def _targets(dye_class: str, fibres: Fibres, superwash: bool | None) -> tuple[Said, ...]:
    """pH targets, and the hottest bath of these fibres."""
    known, found = CLASSES[dye_class], []
    if known.ph_from_hundredths is not None and known.ph_to_hundredths is not None:
        span = f"pH {format_ph(known.ph_from_hundredths)} to {format_ph(known.ph_to_hundredths)}"
        found.append(Said(f"{span} for {known.name} dyes.", known.source))
    slugs = [slug for slug, _ in fibres]
    if "nylon" in slugs and dye_class == "premetallised_1_2":
        found.append(Said("pH 6 to 6.5 on nylon.", sources.NYLON_NOTE))
    elif slugs == ["nylon"]:
        found.append(Said("pH 4 to 6 on nylon.", sources.NYLON_NOTE))
    if superwash and (not slugs or "wool" in slugs):
        found.append(
            Said(
                "Superwash wool is hurt least near pH 4, with a non-ionic agent in the bath.",
                sources.SHRINK_RESIST,
            )
        )
    cap = temperature_cap(slugs, superwash)
    if cap is not None:
        at_most = f"At most {format_celsius(cap.centi_celsius)}."
        found.append(Said(f"{at_most} {cap.why}", cap.source))
    return tuple(found)


_CELLULOSE_ASIDE = Said(
    "Hard water: take a sequestrant before the dye, since lime and soda ash cloud the bath.",
    sources.SHEET_REACTIVE_COTTON,
)


def _sayings(
    dye_class: str, fibres: Fibres, superwash: bool | None, process: str, mixed: bool
) -> tuple[Said, ...]:
    """What else there is to know of this dye on these fibres."""
    slugs = {slug for slug, _ in fibres}
    found: list[Said] = []
    if mixed:
        found.append(
            Said(
                "The base is mixed, and each kind of fibre is told by itself. No sheet here dyes both in one bath. "
                "A share of fibre is reckoned on the whole load.",
                sources.DEFINITION,
            )
        )
    if process == "acid":
        if dye_class in FROM_NEAR_CLASS:
            found.append(Said(FROM_NEAR_CLASS[dye_class], sources.DEFINITION))
        if superwash and "wool" in slugs:
            found.append(
                Said(
                    "Superwash wool takes dye fast, and the usual levelling agents help it less.",
                    sources.BROADBENT,
                )
            )
        if "nylon" in slugs and len(slugs) > 1:
            found.append(
                Said("Nylon usually takes more of an acid dye than the wool beside it.", sources.BLEND_NOTE)
            )
            found.append(
                Said(
                    "In pale shades nylon takes more than its share; in heavy ones wool catches up.",
                    sources.WOOL_DYEING,
                )
            )
        if "silk" in slugs:
            found.append(
                Said(
                    "Silk takes acid dye at a lower temperature than wool, and less fast.", sources.SILK_NOTE
                )
            )
        if "mohair" in slugs:
            found.append(Said("Mohair takes dye somewhat more intensely than wool.", sources.MOHAIR_NOTE))
    if process == "alkali":
        found.append(_CELLULOSE_ASIDE)
    if process == "salt":
        found.append(
            Said(
                "No published amount of salt stands here: the dye maker's sheet decides.", sources.DEFINITION
            )
        )
    return tuple(found)


def _dose_here(dose: Dose, depth: Fraction | None, load: Load, own: Sequence[Own]) -> UsualDose:
    span = dose.at(depth)
    if span is None:
        return UsualDose(dose, _by_words(dose))
    ends = [RuleAmount(dose.basis, dose.unit, rate) for rate in dict.fromkeys(span)]
    by = " to ".join([*(_bare(rule) for rule in ends[:-1]), _bare(ends[-1])])
    by = f"{by} {_by_words(dose)}"
    size, wanting = (
        (load.dry_milligrams, "the dry weight")
        if dose.basis is Basis.FIBRE
        else (load.bath_microlitres, "the litres of the bath")
    )
    if not size:
        return UsualDose(dose, by, wanting=f"Write down {wanting} to see the amount here.")
    mine = next((each for each in own if serves_as(each.thing, dose.thing)), None)
    amounts = []
    for rule in ends:
        plain = scale(rule, dry_milligrams=load.dry_milligrams, bath_microlitres=load.bath_microlitres)
        if plain is None:
            continue
        figure = Figure(
            plain.value,
            replace(
                plain.working,
                title=f"{SUBSTANCES[dose.thing].name[:1].upper()}{SUBSTANCES[dose.thing].name[1:]}, "
                f"{dose.basis.words}",
                source=dose.source,
            ),
        )
        amounts.append(_own_amount(figure, dose, mine) or Here(figure, dose.unit))
    return UsualDose(dose, by, tuple(amounts), _what_own_wants(dose, mine, amounts))


def _bare(rule: RuleAmount) -> str:
    """The number of a rule with its unit, without what it goes by."""
    words = rule.words
    for tail in (" on 100 g of dry fibre", " of dry fibre", f" {rule.basis.words}"):
        words = words.removesuffix(tail)
    return words


def _by_words(dose: Dose) -> str:
    if dose.basis is Basis.BATH:
        return "per litre of bath"
    return "on 100 g of dry fibre" if dose.unit is Unit.UL else "of dry fibre"


def _own_amount(figure: Figure[Fraction], dose: Dose, own: Own | None) -> Here | None:
    """The dose as the studio's own auxiliary, or None where it has none or its strength is not known."""
    if own is None:
        return None
    if dose.unit is Unit.UL:
        if not own.liquid:
            return None
        if dose.of_percent is None:
            return Here(figure, Unit.UL, own)
        if own.strength_percent is None:
            return None
        if own.strength_percent == dose.of_percent:
            return Here(figure, Unit.UL, own)
        swapped = swap_acid(
            microlitres=figure.value, from_percent=dose.of_percent, to_percent=own.strength_percent
        )
        return Here(_after(swapped.map(lambda swap: swap.microlitres), figure.working), Unit.UL, own)
    if own.liquid:
        if own.strength_percent is None:
            return None
        measured = measured_acid(acid_milligrams=figure.value, acid_percent=own.strength_percent)
        return Here(_after(measured, figure.working), Unit.UL, own)
    if own.thing != dose.thing and dose.thing != "exhausting_salt":
        try:
            other = other_form_milligrams(milligrams=figure.value, have=dose.thing, want=own.thing)
        except FormUnknown:
            return None
        return Here(_after(other, figure.working), Unit.MG, own)
    return Here(figure, Unit.MG, own)


def _what_own_wants(dose: Dose, own: Own | None, amounts: Sequence[Here]) -> str:
    if own is None or any(each.own is not None for each in amounts):
        return ""
    if own.liquid and own.strength_percent is None and dose.thing not in _ACIDS:
        return f"The store keeps {own.name} by volume, and this goes by weight: weigh it."
    if own.liquid and own.strength_percent is None:
        return f"Write down the strength of {own.name} to see its millilitres."
    if not own.liquid and dose.unit is Unit.UL:
        return f"The store keeps {own.name} by weight, and this is published for a liquid."
    return ""


def _after(figure: Figure[Fraction], before: Working) -> Figure[Fraction]:
    return Figure(figure.value, replace(figure.working, steps=(*before.steps, before)))


def _for_the_water(
    alkalinity: int | None, load: Load, own: Sequence[Own]
) -> tuple[Figure[Fraction] | None, tuple[Here, ...]]:
    """The acetic acid that the studio's water alone uses up, and the same as each of the studio's own acetic acids."""
    if not alkalinity or not load.bath_microlitres:
        return None, ()
    acid = acid_for_alkalinity(alkalinity_mg_per_litre=alkalinity, bath_microlitres=load.bath_microlitres)
    mine = [
        Here(
            _after(
                measured_acid(acid_milligrams=acid.value, acid_percent=each.strength_percent), acid.working
            ),
            Unit.UL,
            each,
        )
        for each in own
        if each.thing == "acetic" and each.liquid and each.strength_percent
    ]
    return acid, tuple(mine)


def lacks(processes: Iterable[str], roles: Iterable[str]) -> str:
    """What a recipe by its processes and the roles of its auxiliaries has none of: "acid", "alkali", or ""."""
    there, asked = set(roles), set(processes)
    if "acid" in asked and not there & {"acid", "acid_donor"}:
        return "acid"
    if "alkali" in asked and "alkali" not in there:
        return "alkali"
    return ""
