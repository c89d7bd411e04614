"""Which lots want labels, what their labels say, and what is missing for that."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime

from django.urls import reverse
from django.utils import timezone

from dyehouse.ledger.models import Balance, Item
from dyehouse.paper.composition import Composition, CompositionError, Market, SharesDoNotSum, fibre_line
from dyehouse.paper.designs import Design
from dyehouse.paper.fitting import unprintable
from dyehouse.paper.label_law import maker_line, must_stand
from dyehouse.paper.own_pictures import photo_bytes
from dyehouse.paper.placed import LabelTooSmall
from dyehouse.paper.runs import printed_for
from dyehouse.paper.sheets import Sheet
from dyehouse.paper.wet_tag import WetTag
from dyehouse.paper.yarn_label import YarnLabel, lay_out
from dyehouse.paper.yarn_words import (
    care_words,
    name_warnings,
    origin_notice,
    origin_words,
)
from dyehouse.studio.models import Studio, User
from recipes.lots.jugs import count_of_pots, together_words
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
    together: str = ""

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


def good_pieces(*, user: User, codes: Sequence[str] | None = None) -> list[Labelled]:
    """The lots with good pieces that are dry or on a shelf, newest first; by `codes` only those. Five queries."""
    rows = Balance.objects.filter(
        item__kind=Item.Kind.DYED,
        item__dyed__grade=DyedYarn.Grade.GOOD,
        on_hand__gt=0,
        lot__dye_lot__isnull=False,
    )
    if codes is not None:
        rows = rows.filter(lot__dye_lot__code__in=codes)
    rows = rows.select_related("item__dyed__put_up__base", "lot__dye_lot__colourway").prefetch_related(
        "item__dyed__put_up__base__fibres", "item__dyed__put_up__base__labelled_fibres"
    )
    rows = rows.annotate(pots=count_of_pots("lot__dye_lot"))
    together: dict[int, str] = {}
    pieces: dict[tuple[int, int], tuple[DyeLot, PutUp, int]] = {}
    for row in rows:
        lot, put_up = row.lot.dye_lot, row.item.dyed.put_up
        together[lot.pk] = together_words(getattr(row, "pots", None) or 0, from_before=lot.from_before)
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
        lines.append(Labelled(lot, lot.shown_name(user), put_up, good, had, at, together[lot.pk]))
    return lines[::-1]


def waiting_for_labels(*, user: User) -> list[Labelled]:
    """The lots whose good pieces have had fewer labels than they are."""
    return [line for line in good_pieces(user=user) if line.lacking]


def shares_of(base: Base) -> dict[str, int]:
    """The fibres of a base in tenths of a percent."""
    return {row.fibre: row.per_mille for row in base.fibres.all()}


def said_of(base: Base) -> dict[str, str]:
    """How labels say each fibre of a base, where somebody chose."""
    return {row.fibre: row.how for row in base.labelled_fibres.all()}


@dataclass(frozen=True, slots=True)
class Printing:
    """What one printing goes by: for whom, in which market, in which design, on which sheet, and whether names are opened."""

    studio: Studio
    market: Market
    design: Design
    sheet: Sheet
    open_names: bool = False


def prepare(line: Labelled, printing: Printing, *, photo: str = "") -> Prepared:
    """The label of a lot on a put-up, with all there is to know about it before it is printed.

    A secret colourway stands by its code and without its picture unless names are opened. `photo` is the name of the picture
    that shows the lot.
    """
    label, composition = label_of(line, printing, photo=photo)
    base = line.put_up.base
    shares = shares_of(base)
    notices = [
        *_about_base(line, shares),
        *_about_fibres(base, printing.market),
        *[Notice(sentence) for sentence in name_warnings([label.colourway, base.name], shares) if shares],
        *_about_maker(printing, base),
    ]
    unknown = unprintable("".join(label.texts))
    if unknown:
        notices.append(Notice(unknown))
    withheld = printing.design.withholds(("fibres", *label.must))
    if withheld:
        notices.append(
            Notice(
                f"This design leaves out {_listed(withheld)}, which this market’s label law wants with each piece. "
                "Put it on a second label or a band."
            )
        )
    notices += _no_room(label, printing.sheet)
    if printing.design.with_picture and not label.photo:
        secret = line.lot.colourway.is_secret and not printing.open_names
        notices.append(
            Notice(
                "Its picture would give the secret away, so it has none."
                if secret
                else f"There is no photo of lot {line.lot.code} yet, so its label has none."
            )
        )
    rule = f"{composition.rule} Source: {composition.source}." if composition is not None else ""
    return Prepared(line, label, rule, notices)


def said_of_all(prepared: Sequence[Prepared]) -> list[Notice]:
    """What there is to know about every one of several labels, to be said once."""
    if len(prepared) < 2:
        return []
    return [notice for notice in prepared[0].notices if all(notice in each.notices for each in prepared)]


def label_of(line: Labelled, printing: Printing, *, photo: str = "") -> tuple[YarnLabel, Composition | None]:
    """The label of a lot on a put-up alone, and its fibre line with its rule where the fibres are known and come to 100 %."""
    base, colourway, studio = line.put_up.base, line.lot.colourway, printing.studio
    shares = shares_of(base)
    composition = None
    if shares:
        with suppress(CompositionError):
            composition = fibre_line(shares, printing.market, said=said_of(base))
    opened = printing.open_names or not colourway.is_secret
    picture = photo_bytes(photo) if opened and photo and printing.design.with_picture else None
    label = YarnLabel(
        studio=studio.name,
        colourway=(line.lot.own_name or colourway.name or colourway.code)
        if opened
        else colourway.shown_name(None),
        base=base.name,
        fibres=composition.line if composition is not None else "",
        nominal_milligrams=line.put_up.nominal_milligrams,
        metres=line.put_up.metres or _metres(base, line.put_up),
        lot=line.lot.code,
        qr=line.lot.code,
        care=care_words(shares, superwash=base.superwash) if shares else "",
        origin=origin_words(spun_in=base.spun_in, dyed_in=studio.country),
        maker=maker_line(studio, printing.market).line,
        must=must_stand(studio, printing.market),
        photo=photo if picture is not None else "",
        picture=picture,
    )
    return printing.design.applied(label), composition


def _about_base(line: Labelled, shares: Mapping[str, int]) -> list[Notice]:
    base = line.put_up.base
    there = reverse("base-change", args=[base.pk])
    found = []
    if not shares:
        found.append(
            Notice(
                f"The fibres of {base.name} are not written down, so the label names none.", there, base.name
            )
        )
    if not (line.put_up.metres or _metres(base, line.put_up)):
        found.append(
            Notice(
                f"The length of a piece of {base.name} is not written down, so the label has none.",
                reverse("put-up", args=[line.put_up.pk]),
                str(line.put_up),
            )
        )
    return found


def _about_fibres(base: Base, market: Market) -> list[Notice]:
    shares = shares_of(base)
    if not shares:
        return []
    try:
        fibre_line(shares, market, said=said_of(base))
    except SharesDoNotSum as error:
        return [Notice(str(error), reverse("base-change", args=[base.pk]), base.name)]
    except CompositionError as error:
        return [Notice(str(error), reverse("label-fibres", args=[base.pk]), "How labels say its fibres")]
    return []


def _about_maker(printing: Printing, base: Base) -> list[Notice]:
    found = []
    if not printing.studio.name:
        found.append(Notice("The studio has no name yet. The owner writes it on the studio's own page."))
    there = reverse("makers-words")
    found += [
        Notice(sentence, there, "The maker on labels")
        for sentence in maker_line(printing.studio, printing.market).missing
    ]
    notice = origin_notice(spun_in=base.spun_in, market=printing.market)
    if notice:
        found.append(Notice(notice, reverse("base-change", args=[base.pk]), base.name))
    return found


def _metres(base: Base, put_up: PutUp) -> int | None:
    if base.metres_per_100g is None:
        return None
    return base.metres_per_100g * put_up.nominal_milligrams // 100_000


def _no_room(label: YarnLabel, sheet: Sheet) -> list[Notice]:
    try:
        laid = lay_out(label, sheet)
    except LabelTooSmall as error:
        return [Notice(str(error))]
    found = []
    if laid.wanting:
        found.append(
            Notice(
                f"This label is too small for {_listed(laid.wanting)}, which this market’s label law wants. "
                "Choose a sheet with larger labels, or put it on a second label."
            )
        )
    rest = [words for words in laid.left_out if words not in laid.wanting]
    if rest:
        found.append(Notice(f"This label is too small for {_listed(rest)}."))
    return found


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def labels_for(prepared: Sequence[Prepared], counts: Mapping[str, int]) -> list[YarnLabel]:
    """The labels to print, each as often as its line says."""
    return [each.label for each in prepared for _ in range(counts.get(each.line.key, 0))]


def _one_lot_with(pot: Pot) -> str:
    """That the pieces of a pot belong to another pot's lot, since a jug fed both; empty where they do not."""
    lot = pot.dye_lot
    return f"{together_words(2)} as {lot.code}" if lot is not None and lot.code != pot.code else ""


def wet_tag_of(pot: Pot) -> WetTag:
    """The tag of a pot. `pot` comes with its colourway, vessel, lot and loads. A tag is open paper: secrets show their code."""
    loads = list(pot.loads.all())
    at = pot.loaded_at or pot.made_at
    return WetTag(
        code=pot.code,
        colourway=pot.colourway.shown_name(None),
        base=", ".join(
            [
                *dict.fromkeys(load.put_up.base.name for load in loads),
                *(["a strip"] if loads and pot.strip_milligrams else []),
            ]
        )
        or "a strip",
        pieces=sum(load.pieces for load in loads),
        vessel=", ".join(
            part for part in (pot.vessel.name if pot.vessel is not None else "", _one_lot_with(pot)) if part
        ),
        date=f"{timezone.localtime(at):%d %B %Y}",
    )
