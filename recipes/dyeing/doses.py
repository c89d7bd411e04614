"""Published amounts of auxiliaries, each in its publication's own basis: a share of fibre, by the litre, or to a reading.

A dose is data: what is said, where, and for which depth. Two publications that disagree are two doses; nothing is averaged,
and no dose is put on another basis. Rates are milligrams or microlitres per kilogram of dry fibre or per litre of bath.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise

from recipes.dyeing import sources
from recipes.dyeing.auxiliaries import ACID_RANGE_DOSES, SALT_BANDS, SALT_OUNCES_ABOVE
from recipes.dyeing.scaling import Basis, Unit
from recipes.dyeing.units import ounces_per_us_gallon_to_grams_per_litre, to_milligrams
from recipes.dyeing.working import Exact, Source, exact


class Says(StrEnum):
    """What a publication says of a thing."""

    TAKE = "take"
    NEVER = "never"
    LOOSELY = "loosely"


class ByDepth(StrEnum):
    """How a dose follows the depth: not at all, in bands up to an edge, or given at single depths."""

    NOT = "not"
    BANDS = "bands"
    POINTS = "points"


@dataclass(frozen=True, slots=True)
class Rate:
    """A rate, or a span of them. `depth` is a band's upper edge or the depth of a point, in percent; None has none."""

    least: Fraction
    most: Fraction
    depth: Fraction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Dose:
    """What one publication says of one substance.

    `says` is its own way of putting it. Millilitres of an acid are of the strength `of_percent`. A spoon, a cup or a plain
    “never” has no rates.
    """

    thing: str
    says: str
    source: Source
    how: Says = Says.TAKE
    basis: Basis = Basis.FIBRE
    unit: Unit = Unit.MG
    by_depth: ByDepth = ByDepth.NOT
    rates: tuple[Rate, ...] = ()
    of_percent: Decimal | None = None
    note: str = ""

    def at(self, depth_percent: Exact | None) -> tuple[Fraction, Fraction] | None:
        """The least and the most rate at a depth; where the depth is not known, over all of them.

        Between two depths that a publication gives, both ends are taken: it says nothing of what lies between.
        """
        if not self.rates:
            return None
        chosen = self.rates if depth_percent is None else self._chosen(exact(depth_percent))
        return min(rate.least for rate in chosen), max(rate.most for rate in chosen)

    def _chosen(self, depth: Fraction) -> tuple[Rate, ...]:
        if self.by_depth is ByDepth.NOT:
            return self.rates
        if self.by_depth is ByDepth.BANDS:
            return (
                next(
                    (rate for rate in self.rates if rate.depth is None or depth <= rate.depth), self.rates[-1]
                ),
            )
        edges = [(rate.depth or Fraction(0), rate) for rate in self.rates]
        if depth <= edges[0][0]:
            return (edges[0][1],)
        for (low, below), (high, above) in pairwise(edges):
            if depth == high:
                return (above,)
            if low < depth < high:
                return (below, above)
        return (edges[-1][1],)


def _percent(share: Exact) -> Fraction:
    """A share of fibre in percent as milligrams (or, of 1 kg a litre, microlitres) a kilogram."""
    return exact(share) * 10_000


def _share(least: Exact, most: Exact | None = None) -> tuple[Rate, ...]:
    return (Rate(_percent(least), _percent(least if most is None else most)),)


def _at_points(*points: tuple[Exact, Exact]) -> tuple[Rate, ...]:
    """Shares of fibre at depths: (depth in percent, share in percent)."""
    return tuple(Rate(_percent(share), _percent(share), exact(depth)) for depth, share in points)


def _by_litre(*points: tuple[Exact | None, Exact]) -> tuple[Rate, ...]:
    """Grams a litre at depths or up to edges, as milligrams a litre."""
    return tuple(
        Rate(exact(grams) * 1000, exact(grams) * 1000, None if depth is None else exact(depth))
        for depth, grams in points
    )


def _by_pound(amount: int) -> tuple[Rate, ...]:
    """Milligrams or microlitres on a pound of fibre: the same basis in kilograms."""
    rate = Fraction(amount * 1_000_000) / to_milligrams(1, "lb")
    return (Rate(rate, rate),)


# One maker's range on wool gives its shares for light, medium and strong; the same page calls 0.5 % lighter, 1 % the usual
# and 2 to 4 % the darker depths.
_LIGHT, _MEDIUM, _STRONG = Decimal("0.5"), Decimal(1), Decimal(2)
_RANGE = "One maker's acid range on wool; its class is not told. Light is 0.5 %, medium 1 %, strong from 2 %."


def _of_range(thing: str) -> Dose:
    dose = ACID_RANGE_DOSES["citric_acid" if thing == "citric" else thing]
    shares = (dose.light_percent, dose.medium_percent, dose.strong_percent)
    return Dose(
        thing=thing,
        says=f"{shares[0]} / {shares[1]} / {shares[2]} % of fibre for light / medium / strong",
        source=dose.source,
        by_depth=ByDepth.POINTS,
        rates=_at_points(*zip((_LIGHT, _MEDIUM, _STRONG), shares, strict=True)),
        note=_RANGE,
    )


CITRIC_RANGE, GLAUBER_RANGE, LEVELLER_RANGE = (
    _of_range("citric"),
    _of_range("glauber_crystals"),
    _of_range("leveller"),
)
CITRIC_POUND = Dose(
    thing="citric",
    says="15 g (1 tablespoon) on a pound of fibre",
    source=sources.HAND_DYEING_PAGES,
    rates=_by_pound(15_000),
)
VINEGAR_POUND = Dose(
    thing="acetic",
    says="165 ml of 5 % vinegar on a pound of fibre",
    source=sources.HAND_DYEING_PAGES,
    unit=Unit.UL,
    rates=_by_pound(165_000),
    of_percent=Decimal(5),
    note="For washfast acid dyes on wool, silk and mohair.",
)
SULPHURIC = Dose(
    thing="sulphuric",
    says="2 to 4 % of fibre, in the trade",
    source=sources.BROADBENT,
    how=Says.LOOSELY,
    note="It is hazardous and not for a workroom. The figure was read through overprinted text.",
)
ACETIC_TRADE = Dose(
    thing="acetic",
    says="1 to 3 % of fibre, as acid of 100 %",
    source=sources.BROADBENT,
    rates=_share(1, 3),
)
ACETIC_ARTIST = Dose(
    thing="acetic",
    says="10 ml of a 2 % solution on 10 g of wool",
    source=sources.ARTIST_ACID,
    unit=Unit.UL,
    rates=_share(100),
    of_percent=Decimal(2),
    note="Half at the start and half after 15 min for strong shades.",
)
ACETIC_NYLON = Dose(
    thing="acetic",
    says="1 to 3 % of fibre, as acid of 100 %",
    source=sources.NYLON_NOTE,
    rates=_share(1, 3),
    note="For nylon.",
)
GLAUBER_TRADE = Dose(
    thing="glauber_crystals",
    says="5 to 10 % of fibre",
    source=sources.BROADBENT,
    rates=_share(5, 10),
    note="It slows the dye on wool.",
)
SALT_ARTIST = Dose(thing="common_salt", says="50 % of fibre", source=sources.ARTIST_ACID, rates=_share(50))
SALT_DYER = Dose(
    thing="common_salt", says="20 g on 100 g of fibre", source=sources.DYER_SALT, rates=_share(20)
)
AMMONIUM_POUND = Dose(
    thing="ammonium_sulphate",
    says="13.6 g on a pound of fibre",
    source=sources.HAND_DYEING_PAGES,
    rates=_by_pound(13_600),
    note="It gives its acid as the bath heats, so the dye strikes more slowly. The same pages also say 15 g.",
)
AMMONIUM_MAKER = Dose(
    thing="ammonium_sulphate",
    says="0 to 4 % of fibre; 4 % with milling and neutral premetallised dyes",
    source=sources.MAKER_MILLING,
    rates=_share(4),
)
AMMONIUM_SPOON = Dose(
    thing="ammonium_sulphate",
    says="1 teaspoon in a US gallon of bath",
    source=sources.HAND_DYEING_PAGES,
    how=Says.LOOSELY,
    basis=Basis.BATH,
    note="It goes by the bath and the two above by the fibre: they part at every liquor ratio but about 21:1. A spoon has no "
    "certain weight.",
)
GLAUBER_NEVER_MILLING = Dose(
    thing="glauber_crystals",
    says="never with milling dyes: it drives them on at pH 6 and hinders levelling",
    source=sources.BROADBENT,
    how=Says.NEVER,
)
GLAUBER_MAKER_MILLING = Dose(
    thing="glauber_crystals",
    says="5 % of fibre",
    source=sources.MAKER_MILLING,
    rates=_share(5),
    note="Where the two disagree, follow the maker of your dye.",
)
GLAUBER_NEVER_SILK = Dose(
    thing="glauber_crystals",
    says="none on silk: it dulls the lustre",
    source=sources.SILK_NOTE,
    how=Says.NEVER,
)
LEVELLER_BLEND = Dose(
    thing="leveller",
    says="1.5 % of fibre on wool with nylon",
    source=sources.MAKER_WOOL_NYLON,
    rates=_share(Decimal("1.5")),
)
RESIST_BLEND = Dose(
    thing="resist",
    says="1 % of fibre on wool with nylon",
    source=sources.MAKER_WOOL_NYLON,
    rates=_share(1),
    note="Without it nylon usually takes more than its share.",
)
FIXING_BLEND = Dose(
    thing="fixing",
    says="1 to 2 % of fibre where 20 % or more is nylon",
    source=sources.MAKER_MILLING,
    rates=_share(1, 2),
    note="It helps the wet fastness of such blends; on all wool it does little.",
)
LEVELLER_NYLON = Dose(
    thing="leveller",
    says="0.3 to 0.5 % of fibre on nylon",
    source=sources.NYLON_NOTE,
    rates=_share(Decimal("0.3"), Decimal("0.5")),
)
FIXING_NYLON = Dose(
    thing="fixing",
    says="2 to 4 % of fibre on nylon, after dyeing",
    source=sources.NYLON_NOTE,
    rates=_share(2, 4),
)
PHOSPHATE_NYLON = Dose(
    thing="phosphate",
    says="0.5 g per litre on nylon, with 2 % of fibre of a non-ionic agent",
    source=sources.NYLON_NOTE,
    basis=Basis.BATH,
    rates=_by_litre((None, Decimal("0.5"))),
)
_PALE, _DEEP = Decimal("0.25"), Decimal(2)
VINEGAR_MIXED = Dose(
    thing="acetic",
    says="vinegar, 11 % of fibre for pale (0.25 %), 22 % for medium to dark (2 %)",
    source=sources.NOTES_ON_MIXED,
    unit=Unit.UL,
    by_depth=ByDepth.POINTS,
    rates=_at_points((_PALE, 11), (_DEEP, 22)),
    of_percent=Decimal(5),
    note="Read as vinegar of 5 %, a millilitre taken as a gram.",
)
GLAUBER_MIXED = Dose(
    thing="glauber_crystals",
    says="10 % of fibre for pale (0.25 %), none for medium to dark (2 %)",
    source=sources.NOTES_ON_MIXED,
    by_depth=ByDepth.POINTS,
    rates=_at_points((_PALE, 10), (_DEEP, 0)),
)
LEVELLER_MIXED = Dose(thing="leveller", says="1 % of fibre", source=sources.NOTES_ON_MIXED, rates=_share(1))
ACETATE_MIXED = Dose(
    thing="sodium_acetate",
    says="1 g per litre, only where the pH drifts to 5 or above",
    source=sources.ACETATE_AMOUNT,
    basis=Basis.BATH,
    rates=_by_litre((None, 1)),
)
VINEGAR_COLD = Dose(
    thing="acetic",
    says="330 ml of 5 % vinegar on 500 g of wool",
    source=sources.SHEET_COLD_ON_WOOL,
    unit=Unit.UL,
    rates=_share(66),
    of_percent=Decimal(5),
)
GLAUBER_COLD = Dose(
    thing="glauber_crystals",
    says="25 g on 500 g of wool",
    source=sources.SHEET_COLD_ON_WOOL,
    rates=_share(5),
)
WETTING_COLD = Dose(
    thing="wetting",
    says="2 ml in 10 litres, to wet the wool out",
    source=sources.SHEET_COLD_ON_WOOL,
    basis=Basis.BATH,
    unit=Unit.UL,
    rates=(Rate(Fraction(200), Fraction(200)),),
)

# Cotton, linen, viscose: by the litre of bath.
SODA_GALLON = Dose(
    thing="soda_ash",
    says="about 1 oz in a US gallon of bath, for a pH of about 10.5",
    source=sources.SODA_BY_WATER,
    basis=Basis.BATH,
    rates=_by_litre((None, ounces_per_us_gallon_to_grams_per_litre(1))),
    note="It goes by the water, not by the fibre or the dye.",
)
SODA_CUPS = Dose(
    thing="soda_ash",
    says="a quarter cup in a gallon for medium, a third for dark; “1 cup (450 g)” in 3 gallons for the darkest",
    source=sources.FORUM_IMMERSION,
    how=Says.LOOSELY,
    basis=Basis.BATH,
    note="A cup has no certain weight: published figures for one cup run from 76 to 450 g. Weigh yours.",
)
SALT_BY_CHART = Dose(
    thing="exhausting_salt",
    says="1 / 1.5 / 2 / 2 lb for pale / medium / dark / black, on a pound of fibre in 2.5 US gallons",
    source=sources.CHART_BY_POUND,
    basis=Basis.BATH,
    rates=tuple(
        Rate(grams * 1000, grams * 1000)
        for grams in (ounces_per_us_gallon_to_grams_per_litre(Fraction(oz * 2, 5)) for oz in (16, 24, 32))
    ),
    note="Salt works by the litre, and its chart holds at that bath alone, about 21:1. It gives no depths in percent.",
)
SALT_CUPS = Dose(
    thing="exhausting_salt",
    says="1 cup in a gallon",
    source=sources.FORUM_IMMERSION,
    how=Says.LOOSELY,
    basis=Basis.BATH,
    note="A cup has no certain weight.",
)
SALT_CUPS_VERY_PALE = Dose(
    thing="exhausting_salt",
    says="1.5 cups, and a quarter cup of soda ash, in 3 gallons for very pale",
    source=sources.SHEET_ORGANIC,
    how=Says.LOOSELY,
    basis=Basis.BATH,
)
SALT_WARM_CHART = Dose(
    thing="exhausting_salt",
    says="5 / 7 / 9 / 12 / 13 oz in a US gallon up to 0.50 / 1.00 / 2.00 / 4.00 % and above, at 80 °C",
    source=sources.MAKER_COTTON,
    basis=Basis.BATH,
    by_depth=ByDepth.BANDS,
    rates=_by_litre(
        *((edge, ounces_per_us_gallon_to_grams_per_litre(ounces)) for edge, ounces in SALT_BANDS),
        (None, ounces_per_us_gallon_to_grams_per_litre(SALT_OUNCES_ABOVE)),
    ),
    note="Converted exactly; the chart's own grams per litre are rounded upwards.",
)
SODA_WARM_CHART = Dose(
    thing="soda_ash",
    says="0.8 oz in a US gallon up to 2.00 %, 1.1 oz above, with caustic soda",
    source=sources.MAKER_COTTON,
    basis=Basis.BATH,
    by_depth=ByDepth.BANDS,
    rates=_by_litre(
        (2, ounces_per_us_gallon_to_grams_per_litre(Decimal("0.8"))),
        (None, ounces_per_us_gallon_to_grams_per_litre(Decimal("1.1"))),
    ),
)
CAUSTIC_WARM_CHART = Dose(
    thing="caustic",
    says="0.20 oz in a US gallon up to 2.00 %, 0.27 oz above, beside the soda ash",
    source=sources.MAKER_COTTON,
    basis=Basis.BATH,
    by_depth=ByDepth.BANDS,
    rates=_by_litre(
        (2, ounces_per_us_gallon_to_grams_per_litre(Decimal("0.20"))),
        (None, ounces_per_us_gallon_to_grams_per_litre(Decimal("0.27"))),
    ),
    note="Caustic soda burns skin and eyes.",
)
_WARM_POINTS = (Decimal("0.5"), Decimal("1.5"), Decimal(4))
GLAUBER_WARM = Dose(
    thing="glauber_crystals",
    says="20 / 50 / 70 g per litre at 0.5 / 1.5 / 4 %, at 70 °C and 10:1",
    source=sources.WARM_REACTIVE,
    basis=Basis.BATH,
    by_depth=ByDepth.POINTS,
    rates=_by_litre(*zip(_WARM_POINTS, (20, 50, 70), strict=True)),
)
SODA_WARM = Dose(
    thing="soda_ash",
    says="5 / 15 / 20 g per litre at 0.5 / 1.5 / 4 %, at 70 °C and 10:1",
    source=sources.WARM_REACTIVE,
    basis=Basis.BATH,
    by_depth=ByDepth.POINTS,
    rates=_by_litre(*zip(_WARM_POINTS, (5, 15, 20), strict=True)),
)
SALT_VINYL = Dose(
    thing="exhausting_salt",
    says="30 to 80 g per litre with vinyl sulphone dyes, at 50 to 60 °C",
    source=sources.VINYL_SULPHONE,
    basis=Basis.BATH,
    rates=(Rate(Fraction(30_000), Fraction(80_000)),),
)
SODA_VINYL = Dose(
    thing="soda_ash",
    says="about 20 g per litre with vinyl sulphone dyes",
    source=sources.VINYL_SULPHONE,
    basis=Basis.BATH,
    rates=_by_litre((None, 20)),
)

_MILLING = (
    AMMONIUM_POUND,
    AMMONIUM_MAKER,
    AMMONIUM_SPOON,
    VINEGAR_POUND,
    CITRIC_POUND,
    GLAUBER_NEVER_MILLING,
    GLAUBER_MAKER_MILLING,
)
#: By class, on wool, hair, silk and nylon.
WITH_ACID: dict[str, tuple[Dose, ...]] = {
    "acid_unknown": (VINEGAR_POUND, CITRIC_RANGE, CITRIC_POUND, GLAUBER_RANGE, LEVELLER_RANGE),
    "levelling": (
        ACETIC_ARTIST,
        CITRIC_RANGE,
        SULPHURIC,
        GLAUBER_TRADE,
        GLAUBER_RANGE,
        SALT_ARTIST,
        SALT_DYER,
        LEVELLER_RANGE,
    ),
    "fast_acid": (ACETIC_TRADE, CITRIC_RANGE, GLAUBER_TRADE, GLAUBER_RANGE, LEVELLER_RANGE),
    "milling": _MILLING,
    "super_milling": _MILLING,
    "premetallised_1_2": (AMMONIUM_MAKER,),
    "mixed_1_2_reactive": (VINEGAR_MIXED, GLAUBER_MIXED, LEVELLER_MIXED, ACETATE_MIXED),
    "cold_reactive": (VINEGAR_COLD, GLAUBER_COLD, WETTING_COLD),
}
#: By class, on cotton, linen, viscose and their like.
WITH_ALKALI: dict[str, tuple[Dose, ...]] = {
    "cold_reactive": (SALT_BY_CHART, SALT_CUPS, SALT_CUPS_VERY_PALE, SODA_GALLON, SODA_CUPS),
    "other_reactive": (
        SALT_WARM_CHART,
        GLAUBER_WARM,
        SALT_VINYL,
        SODA_WARM_CHART,
        SODA_WARM,
        SODA_VINYL,
        CAUSTIC_WARM_CHART,
    ),
}
#: Which doses stand for a class because they are the nearest one's.
FROM_NEAR_CLASS = {"super_milling": "The amounts are those for milling dyes, the nearest class."}
#: From so much nylon on, in tenths of a percent, the maker's fixing agent is worth it.
NYLON_TO_FIX = 200


def doses_on_protein(dye_class: str, fibres: Iterable[tuple[str, int]]) -> list[Dose]:
    """What is published for a class on a base of wool, hair, silk or nylon; fibres are (slug, tenths of a percent)."""
    shares = dict(fibres)
    nylon, others = shares.get("nylon", 0), sum(share for slug, share in shares.items() if slug != "nylon")
    found = list(WITH_ACID.get(dye_class, ()))
    if nylon and not others:
        found = [dose for dose in found if dose.thing not in {"leveller"}]
        found += [ACETIC_NYLON, LEVELLER_NYLON, FIXING_NYLON]
        if dye_class == "premetallised_1_2":
            found.append(PHOSPHATE_NYLON)
    elif nylon:
        found += [LEVELLER_BLEND, RESIST_BLEND]
        if nylon >= NYLON_TO_FIX:
            found.append(FIXING_BLEND)
    if "silk" in shares:
        found = [dose for dose in found if dose.thing != "sulphuric"] + [GLAUBER_NEVER_SILK]
    return found
