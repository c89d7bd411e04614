"""Which base is nearest to another one, for a colourway that has no way of dyeing on it yet.

Nearness is a ranking, no number: first the kind of fibre, since it decides which dyes take at all; then whether both are
superwash, since such wool strikes faster and deeper; then how much of the fibre is the same; then how alike they are in
metres. Nothing here says how much paler or deeper the colour comes: a sample does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from recipes.dyeing.fibres import BY_SLUG
from recipes.dyeing.sources import PRACTICE
from recipes.dyeing.units import format_percent
from recipes.dyeing.working import DyeingError, Figure, Working

FORMULA = (
    "the same kind of fibre first, then the same superwash, then the larger share of the same fibres, "
    "then the nearer metres in 100 g"
)


class NothingNear(DyeingError):
    """There is no base to be near to."""


@dataclass(frozen=True, slots=True)
class Yarn:
    """A base as far as it matters: fibres as (slug, tenths of a percent), empty or None where not known."""

    name: str
    fibres: tuple[tuple[str, int], ...] = ()
    superwash: bool | None = None
    metres_per_100g: int | None = None

    @property
    def kind(self) -> str | None:
        """The kind that most of its fibre is of; None where the fibres are not known."""
        kinds: dict[str, int] = {}
        for slug, per_mille in self.fibres:
            if slug in BY_SLUG:
                kinds[BY_SLUG[slug].kind] = kinds.get(BY_SLUG[slug].kind, 0) + per_mille
        return max(kinds, key=lambda kind: kinds[kind]) if kinds else None


@dataclass(frozen=True, slots=True)
class Near:
    """One base beside another: where in the row it came, and what is the same and what is not."""

    place: int
    yarn: Yarn
    wanted: Yarn

    @property
    def shared_percent(self) -> Fraction | None:
        """The share of fibre that both have, in percent; None where one composition is not known."""
        return shared_percent(self.wanted, self.yarn)

    @property
    def words(self) -> str:
        """75 % of its fibre is the same; superwash both; 400 m in 100 g, not 225."""
        return "; ".join(
            part for part in (_kinds(self), _shares(self), _superwash(self), _metres(self)) if part
        )

    @property
    def sentence(self) -> str:
        """That there is no way on the wanted base, and which is nearest and why."""
        return f"No way of dyeing it on {self.wanted.name} yet. Nearest is on {self.yarn.name}: {self.words}."


def shared_percent(one: Yarn, other: Yarn) -> Fraction | None:
    """The share of fibre that two yarns have in common, in percent: of each fibre the smaller share."""
    if not one.fibres or not other.fibres:
        return None
    others = dict(other.fibres)
    return Fraction(sum(min(share, others.get(slug, 0)) for slug, share in one.fibres), 10)


def nearest(wanted: Yarn, among: Sequence[Yarn]) -> Figure[Near]:
    """The yarn that is nearest to another; of two that are equally near the one in front. Raises NothingNear."""
    if not among:
        raise NothingNear("There is no base with a way of dyeing it to go by.")
    place = min(range(len(among)), key=lambda at: (*_rank(wanted, among[at]), at))
    near = Near(place, among[place], wanted)
    beside = "; ".join(f"{yarn.name}: {Near(at, yarn, wanted).words}" for at, yarn in enumerate(among))
    return Figure(
        near,
        Working(
            title=f"Nearest to {wanted.name}",
            formula=FORMULA,
            substitution=beside,
            result=near.yarn.name,
            source=PRACTICE,
        ),
    )


def _rank(wanted: Yarn, other: Yarn) -> tuple[int, int, Fraction, Fraction]:
    shared = shared_percent(wanted, other)
    return (
        _apart(wanted.kind, other.kind),
        _apart(wanted.superwash, other.superwash),
        -(shared if shared is not None else Fraction(0)),
        _times(wanted, other),
    )


def _apart(one: str | bool | None, other: str | bool | None) -> int:
    """0 for the same, 1 where one is not known, 2 for different."""
    if one is None or other is None:
        return 1
    return 0 if one == other else 2


def _times(one: Yarn, other: Yarn) -> Fraction:
    """How many times as long the longer one is; a thousandfold where one is not known."""
    if not one.metres_per_100g or not other.metres_per_100g:
        return Fraction(1000)
    longer, shorter = sorted((one.metres_per_100g, other.metres_per_100g), reverse=True)
    return Fraction(longer, shorter)


def _kinds(near: Near) -> str:
    if near.wanted.kind is None or near.yarn.kind is None or near.wanted.kind == near.yarn.kind:
        return ""
    return f"mostly {near.yarn.kind}, and this is mostly {near.wanted.kind}"


def _shares(near: Near) -> str:
    shared = near.shared_percent
    if shared is None:
        unknown = near.wanted if not near.wanted.fibres else near.yarn
        return f"the fibres of {unknown.name} are not known"
    if shared == 100:
        return "its fibres are the same"
    return f"{format_percent(shared)} of its fibre is the same" if shared else "none of its fibre is the same"


def _superwash(near: Near) -> str:
    one, other = near.wanted.superwash, near.yarn.superwash
    if one is None or other is None:
        return "whether both are superwash is not known"
    if one == other:
        return "superwash both" if one else "neither is superwash"
    return f"only {near.wanted.name if one else near.yarn.name} is superwash"


def _metres(near: Near) -> str:
    one, other = near.wanted.metres_per_100g, near.yarn.metres_per_100g
    if one is None or other is None or one == other:
        return ""
    return f"{other} m in 100 g, and this has {one}"
