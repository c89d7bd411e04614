"""The large buttons beside the pot line: bottles, jars and auxiliaries, last used first, each with its last amounts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from recipes.dyeing.units import format_grams, format_millilitres, format_number
from recipes.lots.bench import StandsOpen, strength_words
from recipes.lots.models import LogEntry
from recipes.models import Auxiliary, Jar, Mix, StockBottle

Kind = LogEntry.Kind
MOST_AMOUNTS = 4
AT_HAND = 8


@dataclass(frozen=True, slots=True)
class TapAmount:
    """One amount to keep at a touch: what is sent and what is read."""

    value: int
    label: str


@dataclass(frozen=True, slots=True)
class Tap:
    """One thing on the bench. `kind` is stock, powder, mix or auxiliary; `thing` names it in the form; `unit` is ml or g."""

    kind: str
    thing: str
    pk: int
    title: str
    left: str
    unit: str
    chip: str = ""
    amounts: list[TapAmount] = field(default_factory=list)
    before_milligrams: int | None = None

    @property
    def slug(self) -> str:
        return f"{self.thing}-{self.pk}"

    @property
    def group(self) -> str:
        """The row of buttons it stands in."""
        groups = {"bottle": "bottles", "jar": "jars", "mix": "mixes", "auxiliary": "auxiliaries"}
        return groups[self.thing]

    @property
    def before_words(self) -> str:
        """The weight before, as it is typed, where one waits for the weight after."""
        return format_number(Fraction(self.before_milligrams, 1000)) if self.before_milligrams else ""

    @property
    def amount_field(self) -> str:
        """The name that an amount is sent under: microlitres or milligrams."""
        return "microlitres" if self.unit == "ml" else "milligrams"


@dataclass(frozen=True, slots=True)
class Taps:
    """What stands on the bench, by kind, what was used last at the front."""

    bottles: list[Tap]
    jars: list[Tap]
    auxiliaries: list[Tap]
    mixes: list[Tap] = field(default_factory=list)

    @property
    def bottles_at_hand(self) -> list[Tap]:
        return self.bottles[:AT_HAND]

    @property
    def more_bottles(self) -> list[Tap]:
        return self.bottles[AT_HAND:]

    @property
    def jars_at_hand(self) -> list[Tap]:
        return self.jars[: AT_HAND // 2]

    @property
    def more_jars(self) -> list[Tap]:
        return self.jars[AT_HAND // 2 :]


def set_taps(there: StandsOpen, *, entries: Sequence[LogEntry]) -> Taps:
    """The buttons from what stands open, with what is left and used last, and a pot's own entries that count."""
    return Taps(
        bottles=[_bottle(bottle, _used(entries, "bottle_id", bottle.pk)) for bottle in there.bottles],
        jars=[_jar(jar, _used(entries, "jar_id", jar.pk), entries) for jar in there.jars],
        auxiliaries=[_auxiliary(each, _used(entries, "auxiliary_id", each.pk)) for each in there.auxiliaries],
        mixes=[_mix(mix, _used(entries, "mix_id", mix.pk)) for mix in there.mixes],
    )


def _used(entries: Sequence[LogEntry], name: str, pk: int) -> list[LogEntry]:
    return [entry for entry in reversed(entries) if getattr(entry, name) == pk]


def _bottle(bottle: StockBottle, used: Sequence[LogEntry]) -> Tap:
    volumes = [entry.microlitres for entry in used if entry.microlitres]
    left = getattr(bottle, "left", None) or 0
    return Tap(
        kind=Kind.STOCK,
        thing="bottle",
        pk=bottle.pk,
        title=f"{bottle.dye.name} {strength_words(bottle.strength_mg_per_litre)}",
        left=f"{format_millilitres(left)} left" if left else "none left by the book",
        unit="ml",
        chip=bottle.dye.chip,
        amounts=_amounts([*volumes, getattr(bottle, "last_microlitres", None)], liquid=True),
    )


def _mix(mix: Mix, used: Sequence[LogEntry]) -> Tap:
    volumes = [entry.microlitres for entry in used if entry.microlitres]
    left = getattr(mix, "left", None) or 0
    return Tap(
        kind=Kind.MIX,
        thing="mix",
        pk=mix.pk,
        title=f"Mix {mix}",
        left=f"{format_millilitres(left)} left" if left else "none left by the book",
        unit="ml",
        amounts=_amounts([*volumes, getattr(mix, "last_microlitres", None)], liquid=True),
    )


def _jar(jar: Jar, used: Sequence[LogEntry], entries: Sequence[LogEntry]) -> Tap:
    weights = [entry.milligrams for entry in used if entry.milligrams]
    left = getattr(jar, "left", None) or 0
    return Tap(
        kind=Kind.POWDER,
        thing="jar",
        pk=jar.pk,
        title=f"{jar.dye.name}, {jar.label}",
        left=f"{format_grams(left)} left" if left else "none left by the book",
        unit="g",
        chip=jar.dye.chip,
        amounts=_amounts([*weights, getattr(jar, "last_milligrams", None)], liquid=False),
        before_milligrams=_weighed_before(used),
    )


def _weighed_before(used: Sequence[LogEntry]) -> int | None:
    """A weight before that still waits for the weight after."""
    for entry in used:
        if entry.jar_after_milligrams is not None or entry.kind == Kind.POWDER:
            return None
        if entry.jar_before_milligrams is not None:
            return entry.jar_before_milligrams
    return None


def _auxiliary(auxiliary: Auxiliary, used: Sequence[LogEntry]) -> Tap:
    liquid = auxiliary.is_liquid
    left = getattr(auxiliary, "left", None) or 0
    shown = format_millilitres(left) if liquid else format_grams(left)
    used_amounts = [entry.microlitres if liquid else entry.milligrams for entry in used]
    last = getattr(auxiliary, "last_microlitres" if liquid else "last_milligrams", None)
    return Tap(
        kind=Kind.AUXILIARY,
        thing="auxiliary",
        pk=auxiliary.pk,
        title=auxiliary.name,
        left=f"{shown} left" if left else "none left by the book",
        unit="ml" if liquid else "g",
        amounts=_amounts([*used_amounts, last], liquid=liquid),
    )


def _amounts(stored: Iterable[int | None], *, liquid: bool) -> list[TapAmount]:
    """The distinct amounts, last one first."""
    distinct = list(dict.fromkeys(each for each in stored if each))[:MOST_AMOUNTS]
    return [TapAmount(each, format_millilitres(each) if liquid else format_grams(each)) for each in distinct]
