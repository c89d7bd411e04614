"""What stands in the colour book: each colourway on each of its bases, put together in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from django.core.files.storage import default_storage
from django.db.models import Q, QuerySet
from django.utils import timezone

from dyehouse.studio.models import User
from recipes.dyeing.families import BY_SLUG
from recipes.dyeing.fibres import BY_SLUG as FIBRES
from recipes.dyeing.lay import Lay
from recipes.dyeing.units import format_number
from recipes.dyeing.working import exact
from recipes.lots.colourway_queries import RuleLine, rule_lines
from recipes.lots.in_store import Fibres, fibres_of
from recipes.lots.models import DyeLot, Photo, PotLoad, ReferenceChoice
from recipes.lots.notebook.lacking import Lack, lacking
from recipes.lots.untried import untried
from recipes.models import Base, Colourway, Rule, WayOfDyeing
from recipes.way_words import coloured_lay
from recipes.ways import WayFacts


@dataclass(frozen=True, slots=True)
class BookBase:
    """A colourway on one base: its newest way in numbers, and the lot to repeat with who dyed it.

    `load` is the first line of that lot's pot; None where no pot tells of it. `way` None where there is none yet.
    """

    base: Base
    fibres: Fibres
    way: WayOfDyeing | None
    lines: list[RuleLine]
    lay: Lay | None
    lacks: list[Lack]
    reference: DyeLot | None
    loads: list[PotLoad]

    @property
    def load(self) -> PotLoad | None:
        return self.loads[0] if self.loads else None

    @property
    def pieces(self) -> int:
        return sum(load.pieces for load in self.loads)

    @property
    def dry_milligrams(self) -> int:
        return sum(load.dry_milligrams for load in self.loads)

    @property
    def is_untried(self) -> bool:
        """From notes, and no pot of it judged yet."""
        return bool(getattr(self.way, "untried", False))

    @property
    def base_words(self) -> str:
        """75 % wool, 25 % nylon, superwash, 400 m in 100 g."""
        fibres = [
            f"{format_number(exact(share) / 10, 1)} % {FIBRES[slug].name if slug in FIBRES else slug}"
            for slug, share in self.fibres
        ]
        superwash = {True: ["superwash"], False: ["not superwash"], None: []}[self.base.superwash]
        metres = [f"{self.base.metres_per_100g} m in 100 g"] if self.base.metres_per_100g else []
        return ", ".join([*fibres, *superwash, *metres])


@dataclass(frozen=True, slots=True)
class BookPage:
    """One colourway in the book."""

    colourway: Colourway
    name: str
    families: list[str]
    bases: list[BookBase]
    photo: Photo | None = None

    @property
    def code(self) -> str:
        return self.colourway.code

    @property
    def secret_until(self) -> date | None:
        """Its day, while that is still to come."""
        until = self.colourway.secret_until
        return timezone.localdate(until) if until is not None and self.colourway.is_secret else None

    def picture(self) -> bytes | None:
        """The photo's small picture; None where its file is gone."""
        if self.photo is None or not default_storage.exists(self.photo.thumbnail):
            return None
        with default_storage.open(self.photo.thumbnail) as file:
            content: bytes = file.read()
        return content


@dataclass(frozen=True, slots=True)
class BookContents:
    """The pages by name, and how many colourways are left out since they are secret."""

    pages: list[BookPage]
    left_out: int = 0
    by_family: dict[str, list[BookPage]] = field(default_factory=dict)


def colourways_for_book(*, families: Sequence[str] = (), code: str = "") -> QuerySet[Colourway]:
    """Colourways that have a way or a lot to repeat, of all families or some, or the one of a code."""
    dyeable = Q(pk__in=WayOfDyeing.objects.values("colourway")) | Q(
        pk__in=ReferenceChoice.objects.values("colourway")
    )
    found = Colourway.objects.filter(dyeable, retired_at__isnull=True)
    if code:
        return found.filter(code=code)
    if families:
        # A list in a column is looked into here, since not every database can.
        sorted_into = Colourway.objects.exclude(families=[]).values_list("pk", "families")
        found = found.filter(pk__in=[pk for pk, slugs in sorted_into if set(slugs) & set(families)])
    return found


def book_contents(
    colourways: QuerySet[Colourway], *, user: User, with_secrets: bool = True, us: bool = False
) -> BookContents:
    """The book as `user` may see it: before their day, secret colourways stand in the owner's alone. Nine queries."""
    every = list(colourways)
    shown = [each for each in every if not each.is_secret or (with_secrets and each.may_be_seen_by(user))]
    ids = [each.pk for each in shown]
    ways: dict[tuple[int, int], WayOfDyeing] = {}
    for way in (
        WayOfDyeing.objects.filter(colourway__in=ids)
        .annotate(untried=untried())
        .select_related("base", "made_by")
        .order_by("number", "pk")
    ):
        ways[way.colourway_id, way.base_id] = way
    rules: dict[int, list[Rule]] = {}
    newest = [way.pk for way in ways.values()]
    for rule in Rule.objects.filter(way__in=newest).select_related("dye", "auxiliary").order_by("number"):
        rules.setdefault(rule.way_id, []).append(rule)
    references: dict[tuple[int, int], ReferenceChoice] = {}
    for choice in (
        ReferenceChoice.objects.filter(colourway__in=ids).select_related("dye_lot", "base").order_by("pk")
    ):
        references[choice.colourway_id, choice.base_id] = choice
    lots = [choice.dye_lot_id for choice in references.values()]
    loads: dict[tuple[int, int], list[PotLoad]] = {}
    for load in (
        PotLoad.objects.filter(pot__dye_lot__in=lots)
        .select_related("pot__started_by", "pot__vessel", "put_up")
        .order_by("pot_id", "id")
    ):
        loads.setdefault((load.pot.dye_lot_id or 0, load.put_up.base_id), []).append(load)
    photos = _photos(ids, lots)
    bases = {way.base_id: way.base for way in ways.values()}
    bases |= {choice.base_id: choice.base for choice in references.values()}
    fibres = fibres_of(bases)
    pages = []
    for each in sorted(shown, key=lambda one: (one.name or one.code).casefold()):
        keys = dict.fromkeys(key for key in (*references, *ways) if key[0] == each.pk)
        on = [
            _on_base(
                bases[base],
                fibres.get(base, ()),
                ways.get((pk, base)),
                rules,
                references.get((pk, base)),
                loads,
                us,
            )
            for pk, base in keys
        ]
        pages.append(
            BookPage(
                colourway=each,
                name=each.shown_name(user),
                families=[slug for slug in BY_SLUG if slug in each.families],
                bases=on,
                photo=photos.get(each.pk),
            )
        )
    # How many of a family are secret would tell a helper their colour.
    left_out = len(every) - len(shown) if user.is_owner else 0
    return BookContents(pages, left_out, _by_family(pages))


def _by_family(pages: Sequence[BookPage]) -> dict[str, list[BookPage]]:
    """The pages under the name of each of their families, in the order of the list; those of none at the end."""
    found = {
        family.name: [page for page in pages if slug in page.families] for slug, family in BY_SLUG.items()
    }
    found["not sorted into a family"] = [page for page in pages if not page.families]
    return {name: those for name, those in found.items() if those}


def _on_base(
    base: Base,
    fibres: Fibres,
    way: WayOfDyeing | None,
    rules: dict[int, list[Rule]],
    choice: ReferenceChoice | None,
    loads: dict[tuple[int, int], list[PotLoad]],
    us: bool,
) -> BookBase:
    mine = rules.get(way.pk, []) if way is not None else []
    facts = WayFacts.of(way) if way is not None else WayFacts()
    lot = choice.dye_lot if choice is not None else None
    return BookBase(
        base=base,
        fibres=fibres,
        way=way,
        lines=rule_lines(mine, facts, us=us),
        lay=coloured_lay(way.lay_plan, mine) if way is not None else None,
        lacks=lacking(mine, facts) if getattr(way, "untried", False) else [],
        reference=lot,
        loads=loads.get((lot.pk, base.pk), []) if lot is not None else [],
    )


def _photos(colourways: Sequence[int], references: Sequence[int]) -> dict[int, Photo]:
    """The newest photo of a lot to repeat, else of any lot of the colourway."""
    found: dict[int, Photo] = {}
    repeated = set(references)
    for photo in (
        Photo.objects.filter(dye_lot__colourway__in=colourways)
        .select_related("dye_lot")
        .order_by("taken_at", "id")
    ):
        lot = photo.dye_lot
        if lot is None:
            continue
        before = found.get(lot.colourway_id)
        if before is None or lot.pk in repeated or before.dye_lot_id not in repeated:
            found[lot.colourway_id] = photo
    return found
