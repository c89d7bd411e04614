"""Which lots want labels, what their labels say, and what is missing for that."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.urls import reverse
from django.utils import timezone

from dyehouse.ledger.models import Balance, Item
from dyehouse.paper.composition import CompositionError, fibre_line, market_of
from dyehouse.paper.fitting import missing_glyphs
from dyehouse.paper.placed import LabelTooSmall
from dyehouse.paper.runs import printed_for
from dyehouse.paper.sheets import Sheet
from dyehouse.paper.wet_tag import WetTag
from dyehouse.paper.yarn_label import YarnLabel, left_out
from dyehouse.paper.yarn_words import (
    care_words,
    length_line,
    name_warnings,
    origin_notice,
    origin_words,
    weight_line,
)
from dyehouse.studio.models import Studio, User
from recipes.lots.models import DyeLot, Pot
from recipes.models import Base, DyedYarn, PutUp

WAITING_SHOWN = 60


@dataclass(frozen=True, slots=True)
class Labelled:
    """The good pieces of one lot on one put-up, and how many labels the lot has had."""

    lot: DyeLot
    name: str
    put_up: PutUp
    good: int
    printed: int
    printed_at: datetime | None = None

    @property
    def key(self) -> str:
        """How a form names it: the lot's code and the put-up."""
        return f"{self.lot.code}-{self.put_up.pk}"

    @property
    def lacking(self) -> int:
        """How many good pieces have no label yet."""
        return max(0, self.good - self.printed)


@dataclass(frozen=True, slots=True)
class Notice:
    """One thing to know before printing, with where it is put right."""

    sentence: str
    address: str = ""
    where: str = ""


@dataclass(frozen=True, slots=True)
class Prepared:
    """A label as it would be printed, the law it follows, and what there is to know."""

    line: Labelled
    label: YarnLabel
    rule: str = ""
    notices: list[Notice] = field(default_factory=list)

    @property
    def weight(self) -> str:
        return weight_line(self.label.nominal_milligrams)

    @property
    def length(self) -> str:
        return length_line(self.label.metres) if self.label.metres else ""


def good_pieces(*, user: User, codes: Sequence[str] | None = None) -> list[Labelled]:
    """The lots with good pieces that are dry or on a shelf, newest first; by `codes` only those. Four queries."""
    rows = Balance.objects.filter(
        item__kind=Item.Kind.DYED,
        item__dyed__grade=DyedYarn.Grade.GOOD,
        on_hand__gt=0,
        lot__dye_lot__isnull=False,
    )
    if codes is not None:
        rows = rows.filter(lot__dye_lot__code__in=codes)
    rows = rows.select_related("item__dyed__put_up__base", "lot__dye_lot__colourway").prefetch_related(
        "item__dyed__put_up__base__fibres"
    )
    pieces: dict[tuple[int, int], tuple[DyeLot, PutUp, int]] = {}
    for row in rows:
        lot, put_up = row.lot.dye_lot, row.item.dyed.put_up
        before = pieces.get((lot.pk, put_up.pk), (lot, put_up, 0))
        pieces[lot.pk, put_up.pk] = (lot, put_up, before[2] + row.on_hand)
    runs = printed_for({lot.code for lot, _, _ in pieces.values()})
    printed = {code: run.count for code, run in runs.items()}
    lines = []
    for lot, put_up, good in sorted(
        pieces.values(), key=lambda each: (each[0].made_at, each[0].pk, each[1].pk)
    ):
        # A lot of several put-ups has its labels counted together: what was printed goes to the first first.
        had = min(good, printed.get(lot.code, 0))
        printed[lot.code] = printed.get(lot.code, 0) - had
        at = runs[lot.code].last_at if had else None
        lines.append(Labelled(lot, lot.colourway.shown_name(user), put_up, good, had, at))
    return lines[::-1]


def waiting_for_labels(*, user: User) -> list[Labelled]:
    """The lots whose good pieces have had fewer labels than they are."""
    return [line for line in good_pieces(user=user) if line.lacking]


def shares_of(base: Base) -> dict[str, int]:
    """The fibres of a base in tenths of a percent."""
    return {row.fibre: row.per_mille for row in base.fibres.all()}


def prepare(
    line: Labelled, *, studio: Studio, sheet: Sheet, open_name: bool = False, picture: bytes | None = None
) -> Prepared:
    """The label of a lot on a put-up. A secret colourway stands by its code unless `open_name` says otherwise."""
    base, colourway = line.put_up.base, line.lot.colourway
    shares = shares_of(base)
    market = market_of(studio.country)
    notices: list[Notice] = []
    there = reverse("base-change", args=[base.pk])
    fibres, rule = "", ""
    try:
        if shares:
            composition = fibre_line(shares, market)
            fibres, rule = composition.line, f"{composition.rule} ({composition.source})"
    except CompositionError as error:
        notices.append(Notice(str(error), there, base.name))
    if not shares:
        notices.append(
            Notice(
                f"The fibres of {base.name} are not written down, so the label names none.", there, base.name
            )
        )
    metres = line.put_up.metres or _metres(base, line.put_up)
    if metres is None:
        notices.append(
            Notice(
                f"The length of a piece of {base.name} is not written down, so the label has none.",
                reverse("put-up", args=[line.put_up.pk]),
                str(line.put_up),
            )
        )
    name = colourway.name or colourway.code if open_name else colourway.shown_name(None)
    if shares:
        notices += [Notice(sentence) for sentence in name_warnings([name, base.name], shares)]
    if not studio.name:
        notices.append(Notice("The studio has no name yet. The owner writes it on the studio's own page."))
    notice = origin_notice(spun_in=base.spun_in, market=market)
    if notice:
        notices.append(Notice(notice, there, base.name))
    label = YarnLabel(
        studio=studio.name,
        colourway=name,
        base=base.name,
        fibres=fibres,
        nominal_milligrams=line.put_up.nominal_milligrams,
        metres=metres,
        lot=line.lot.code,
        qr=line.lot.code,
        care=care_words(shares, superwash=base.superwash) if shares else "",
        origin=origin_words(spun_in=base.spun_in, dyed_in=studio.country),
        picture=picture,
    )
    unknown = missing_glyphs("".join(label.texts))
    if unknown:
        notices.append(
            Notice(
                f"The fonts have no {', '.join(unknown)}: the label would show boxes. Write it another way."
            )
        )
    notices += _no_room(label, sheet)
    return Prepared(line, label, rule, notices)


def _metres(base: Base, put_up: PutUp) -> int | None:
    if base.metres_per_100g is None:
        return None
    return base.metres_per_100g * put_up.nominal_milligrams // 100_000


def _no_room(label: YarnLabel, sheet: Sheet) -> list[Notice]:
    try:
        gone = left_out(label, sheet)
    except LabelTooSmall as error:
        return [Notice(str(error))]
    return [Notice(f"This label is too small for {_listed(gone)}.")] if gone else []


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def labels_for(prepared: Sequence[Prepared], counts: Mapping[str, int]) -> list[YarnLabel]:
    """The labels to print, each as often as its line says."""
    return [each.label for each in prepared for _ in range(counts.get(each.line.key, 0))]


def wet_tag_of(pot: Pot) -> WetTag:
    """The tag of a pot. `pot` comes with its colourway, vessel and loads. A tag is open paper: secrets show their code."""
    loads = list(pot.loads.all())
    at = pot.loaded_at or pot.made_at
    return WetTag(
        code=pot.code,
        colourway=pot.colourway.shown_name(None),
        base=", ".join(dict.fromkeys(load.put_up.base.name for load in loads)),
        pieces=sum(load.pieces for load in loads),
        vessel=pot.vessel.name if pot.vessel is not None else "",
        date=f"{timezone.localtime(at):%d %B %Y}",
    )
