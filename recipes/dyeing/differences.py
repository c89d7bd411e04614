"""What differs today from the lot that is to be repeated, worst first, and what it does to the colour.

Two plain snapshots are compared; whatever is alike, or known of neither, is left out. A fact known only of the reference lot is
named where it matters, since then nobody can tell.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from recipes.dyeing import sources
from recipes.dyeing.bath import acid_for_alkalinity
from recipes.dyeing.classes import dyes_by_fibre
from recipes.dyeing.depth import strength_percent
from recipes.dyeing.fibres import BY_SLUG, CELLULOSE
from recipes.dyeing.pot_facts import Difference, DyeFacts, PotFacts, Severity
from recipes.dyeing.stock_life import stock_life
from recipes.dyeing.units import (
    format_grams,
    format_minutes,
    format_number,
    format_percent,
    format_ph,
    format_ratio,
)
from recipes.dyeing.working import Source

UNKNOWN = "not known"


def differences(then: PotFacts, now: PotFacts) -> list[Difference]:
    """Everything that differs between the reference lot and today, worst first; empty when nothing known does."""
    found = [
        *_start(then, now),
        *_base(then, now),
        *_mill_lot(then, now),
        *_dyes(then, now),
        *_bath(then, now),
        *_water(then, now),
        *_load(then, now),
        *_handling(then, now),
    ]
    return sorted(found, key=lambda each: -each.severity)


def _yes_no(value: bool | None) -> str:
    return UNKNOWN if value is None else "yes" if value else "no"


def _composition(facts: PotFacts) -> str:
    if not facts.fibres:
        return UNKNOWN
    shares = sorted(facts.fibres, key=lambda part: -part[1])
    return ", ".join(
        f"{format_number(Fraction(per_mille, 10))} % {BY_SLUG[slug].name if slug in BY_SLUG else slug}"
        for slug, per_mille in shares
    )


def _start(then: PotFacts, now: PotFacts) -> Iterator[Difference]:
    """What the yarn and the bath were before anything went in."""
    if then.dyed_before != now.dyed_before:
        yield Difference(
            Severity.CHANGES,
            "The yarn before",
            then.dyed_before or "undyed",
            now.dyed_before or "undyed",
            "The colour under it shows through, so the same dye gives another colour. Dye a sample first.",
            sources.DEFINITION,
        )
    if then.bath_before != now.bath_before:
        yield Difference(
            Severity.SHIFTS,
            "Bath",
            then.bath_before or "fresh",
            now.bath_before or "fresh",
            "Dye that a used bath still holds comes on top of what goes in.",
            sources.MASS_BALANCE,
        )


def _base(then: PotFacts, now: PotFacts) -> Iterator[Difference]:
    if then.superwash is not None and now.superwash is not None and then.superwash != now.superwash:
        effect = (
            "Superwash wool takes dye rapidly and levels less: heat more slowly and stop at 85 to 90 °C."
            if now.superwash
            else "Wool that is not superwash takes dye more slowly and wants more heat to take all of it."
        )
        yield Difference(
            Severity.CHANGES,
            "Superwash",
            _yes_no(then.superwash),
            _yes_no(now.superwash),
            effect,
            sources.BROADBENT,
        )
    if then.fibres and now.fibres and dict(then.fibres) != dict(now.fibres):
        severity, effect, source = _fibre_effect(then, now)
        yield Difference(severity, "Fibres", _composition(then), _composition(now), effect, source)
    elif then.base != now.base:
        yield Difference(
            Severity.CHANGES,
            "Base",
            then.base,
            now.base,
            "The same dye looks different on another yarn. Dye a sample first.",
            sources.PRACTICE,
        )


def _fibre_effect(then: PotFacts, now: PotFacts) -> tuple[Severity, str, Source]:
    if dyes_by_fibre(then.main_fibres) != dyes_by_fibre(now.main_fibres):
        return (
            Severity.CHANGES,
            "Another kind of fibre needs another process: this way of dyeing does not carry over.",
            sources.MAKER_COTTON,
        )
    if then.per_mille("nylon") != now.per_mille("nylon"):
        more = now.per_mille("nylon") > then.per_mille("nylon")
        return (
            Severity.CHANGES,
            f"{'More' if more else 'Less'} nylon: nylon's affinity for acid dyes is usually higher than wool's.",
            sources.BLEND_NOTE,
        )
    if then.per_mille("silk") != now.per_mille("silk"):
        return (
            Severity.CHANGES,
            "Silk takes acid dye at a lower temperature than wool; keep it at 85 °C or below.",
            sources.SILK_NOTE,
        )
    if then.per_mille("mohair") != now.per_mille("mohair"):
        return (
            Severity.SHIFTS,
            "Mohair takes dye somewhat more intensely than wool.",
            sources.HAND_DYEING_PAGES,
        )
    return (
        Severity.SHIFTS,
        "Another blend takes the same dye differently. Dye a sample first.",
        sources.PRACTICE,
    )


def _mill_lot(then: PotFacts, now: PotFacts) -> Iterator[Difference]:
    if then.base != now.base or then.mill_lot is None or then.mill_lot == now.mill_lot:
        return
    if now.mill_lot is None:
        effect = "Without the mill lot nobody can tell whether this is the same yarn. Dye a sample first."
    else:
        effect = "Another mill lot can take dye differently and differ in its own white. Dye a sample first."
    yield Difference(
        Severity.SHIFTS, "Mill lot", then.mill_lot, now.mill_lot or UNKNOWN, effect, sources.PRACTICE
    )


def _dyes(then: PotFacts, now: PotFacts) -> Iterator[Difference]:
    before = {dye.name: dye for dye in then.dyes}
    today = {dye.name: dye for dye in now.dyes}
    for name in before:
        if name not in today:
            yield Difference(
                Severity.CHANGES,
                name,
                "used",
                "not there",
                "The colour cannot come out the same.",
                sources.DEFINITION,
            )
    for name, dye in today.items():
        if name not in before:
            yield Difference(
                Severity.CHANGES,
                name,
                "not used",
                "used",
                "The colour cannot come out the same.",
                sources.DEFINITION,
            )
        else:
            yield from _one_dye(before[name], dye)


def _one_dye(then: DyeFacts, now: DyeFacts) -> Iterator[Difference]:
    if then.strength_of_type_percent != now.strength_of_type_percent:
        times = Fraction(now.strength_of_type_percent, then.strength_of_type_percent)
        yield Difference(
            Severity.CHANGES,
            f"{now.name}: strength of type",
            format_percent(then.strength_of_type_percent),
            format_percent(now.strength_of_type_percent),
            f"The same weight gives {format_number(times, 2)} times the depth. Divide the dose by {format_number(times, 2)}.",
            sources.DEFINITION,
        )
    elif then.jar is not None and then.jar != now.jar:
        yield Difference(
            Severity.SHIFTS,
            f"{now.name}: jar",
            then.jar,
            now.jar or UNKNOWN,
            "Makers cut dye to a standard strength, and another jar can be stronger or weaker. Dye a sample first.",
            sources.SHADE_STRENGTH,
        )
    yield from _bottle_age(then, now)
    strengths = (then.bottle_strength_mg_per_litre, now.bottle_strength_mg_per_litre)
    if strengths[0] is not None and strengths[1] is not None and strengths[0] != strengths[1]:
        yield Difference(
            Severity.SMALL,
            f"{now.name}: stock strength",
            format_percent(strength_percent(strengths[0])),
            format_percent(strength_percent(strengths[1])),
            "The millilitres are reckoned for today's strength; do not take those on the old card.",
            sources.DEFINITION,
        )


def _bottle_age(then: DyeFacts, now: DyeFacts) -> Iterator[Difference]:
    if now.bottle_age_days is None:
        return
    life = stock_life(now.dye_class, in_fridge=now.bottle_in_fridge)
    was = UNKNOWN if then.bottle_age_days is None else _days(then.bottle_age_days)
    if life is not None and now.bottle_age_days >= life.warn_after_days:
        if then.bottle_age_days is not None and then.bottle_age_days >= now.bottle_age_days:
            return
        reactive = now.dye_class == "cold_reactive"
        effect = f"{life.words} {'It is weaker by now: mix it new.' if reactive else 'It may be weaker: try it, or mix it new.'}"
        yield Difference(
            Severity.CHANGES if reactive else Severity.SHIFTS,
            f"{now.name}: age of the stock",
            was,
            _days(now.bottle_age_days),
            effect,
            life.source,
        )
    elif (
        life is None and then.bottle_age_days is not None and now.bottle_age_days >= then.bottle_age_days + 30
    ):
        yield Difference(
            Severity.SMALL,
            f"{now.name}: age of the stock",
            was,
            _days(now.bottle_age_days),
            "No life is published for a stock of this class; shake it and try it on a snip.",
            sources.PRACTICE,
        )


def _days(days: int) -> str:
    return "1 day" if days == 1 else f"{days} days"


def _bath(then: PotFacts, now: PotFacts) -> Iterator[Difference]:
    if then.liquor_ratio is None or now.liquor_ratio is None:
        return
    before, today = Fraction(then.liquor_ratio), Fraction(now.liquor_ratio)
    change = abs(today - before) / before if before else Fraction(0)
    if change <= Fraction(5, 100):
        return
    longer = today > before
    classes = {dye.dye_class for dye in (*then.dyes, *now.dyes)}
    cellulose = dyes_by_fibre(now.main_fibres) == CELLULOSE or bool(
        classes & {"other_reactive", "direct"} and not now.fibres
    )
    if cellulose:
        severity, source = Severity.CHANGES, sources.LIQUOR_RATIO_STUDY
        effect = (
            f"A {'longer' if longer else 'shorter'} bath leaves {'less' if longer else 'more'} of the dye on cotton, and not the "
            "same share of each dye, so the hue moves too."
        )
    else:
        severity = Severity.SHIFTS if change > Fraction(25, 100) else Severity.SMALL
        source = sources.MASS_BALANCE
        effect = (
            f"A {'longer' if longer else 'shorter'} bath does little to the depth of acid dyes on wool, and changes how fast and "
            "how evenly they go on."
        )
    yield Difference(severity, "Liquor ratio", format_ratio(before), format_ratio(today), effect, source)


def _water(then: PotFacts, now: PotFacts) -> Iterator[Difference]:
    before, today = then.water, now.water
    if _both_differ(before.alkalinity_mg_per_litre, today.alkalinity_mg_per_litre):
        old, new = before.alkalinity_mg_per_litre or 0, today.alkalinity_mg_per_litre or 0
        effect = f"The water uses up {'more' if new > old else 'less'} acid; end at the pH of then."
        if now.bath_microlitres:
            acid = acid_for_alkalinity(
                alkalinity_mg_per_litre=abs(new - old), bath_microlitres=now.bath_microlitres
            )
            vinegar = acid.value * 20
            effect = (
                f"This bath uses up {format_grams(acid.value)} {'more' if new > old else 'less'} acetic acid, about "
                f"{format_number(vinegar / 1000, 0)} ml of 5 % vinegar; end at the pH of then."
            )
        yield Difference(
            Severity.SHIFTS,
            "Alkalinity of the water",
            f"{old} mg/L",
            f"{new} mg/L",
            effect,
            sources.MASS_BALANCE,
        )
    if _both_differ(before.hardness_mg_per_litre, today.hardness_mg_per_litre):
        yield Difference(
            Severity.SMALL,
            "Hardness of the water",
            f"{before.hardness_mg_per_litre} mg/L",
            f"{today.hardness_mg_per_litre} mg/L",
            "Calcium and magnesium can dull a shade and make specks; published limits disagree, so compare a sample.",
            sources.WATER_EFFECTS,
        )
    if _both_differ(before.ph_hundredths, today.ph_hundredths):
        yield Difference(
            Severity.SMALL,
            "pH of the water",
            format_ph(before.ph_hundredths or 0),
            format_ph(today.ph_hundredths or 0),
            "The bath's own pH decides: measure it after the acid is in.",
            sources.SHEET_MIXED,
        )


def _both_differ(then: int | None, now: int | None) -> bool:
    return then is not None and now is not None and then != now


def _load(then: PotFacts, now: PotFacts) -> Iterator[Difference]:
    if then.dry_milligrams and now.dry_milligrams and then.pieces and now.pieces:
        before, today = Fraction(then.dry_milligrams, then.pieces), Fraction(now.dry_milligrams, now.pieces)
        if abs(today - before) / before > Fraction(2, 100) and then.base == now.base:
            yield Difference(
                Severity.SMALL,
                "Dry weight of a piece",
                format_grams(before),
                format_grams(today),
                "Doses follow the weight, so it must be the dry weight: a damp skein shifts the depth by as much as it is heavier.",
                sources.DEFINITION,
            )
    if then.dry_milligrams and now.dry_milligrams:
        weights = (then.dry_milligrams, now.dry_milligrams)
        larger = Fraction(max(weights), min(weights))
        if larger > Fraction(11, 10):
            bigger = now.dry_milligrams > then.dry_milligrams
            yield Difference(
                Severity.SHIFTS if larger >= 2 else Severity.SMALL,
                "Yarn in the pot",
                format_grams(then.dry_milligrams),
                format_grams(now.dry_milligrams),
                f"A {'larger' if bigger else 'smaller'} load heats and cools {'more slowly' if bigger else 'faster'} and wants "
                f"{'more' if bigger else 'less'} turning to come out even.",
                sources.DEFINITION,
            )


def _handling(then: PotFacts, now: PotFacts) -> Iterator[Difference]:
    if then.vessel and now.vessel and then.vessel != now.vessel:
        yield Difference(
            Severity.SMALL,
            "Vessel",
            then.vessel,
            now.vessel,
            "Another vessel lays the yarn and spreads the heat differently, which shows where colours meet.",
            sources.PRACTICE,
        )
    if _both_differ(then.hob_watts, now.hob_watts):
        yield Difference(
            Severity.SMALL,
            "Hob",
            f"{then.hob_watts} W",
            f"{now.hob_watts} W",
            "It heats at another rate: keep to the minutes of the programme.",
            sources.HEAT_BALANCE,
        )
    if then.presoak_minutes is not None and now.presoak_minutes is not None:
        longer = max(then.presoak_minutes, now.presoak_minutes)
        shorter = min(then.presoak_minutes, now.presoak_minutes)
        if longer > shorter and longer >= 2 * shorter:
            yield Difference(
                Severity.SMALL,
                "Pre-soak",
                format_minutes(then.presoak_minutes),
                format_minutes(now.presoak_minutes),
                "Yarn that is not wet through takes dye unevenly.",
                sources.PRACTICE,
            )
    if then.lay and now.lay and then.lay.strip().casefold() != now.lay.strip().casefold():
        yield Difference(
            Severity.SHIFTS,
            "Lay of the yarn",
            then.lay,
            now.lay,
            "The colours fall in other places.",
            sources.PRACTICE,
        )
