"""The card that lies beside one pot: everything needed to dye it, with room for what was really done."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Any

from dyehouse.paper.card_drawings import programme_svg
from dyehouse.paper.codes import make_qr
from dyehouse.paper.html_to_pdf import laid_out, pdf_bytes
from dyehouse.paper.placed import shrunk_block
from dyehouse.studio.lay_drawing import LONGEST_MARK, StripPart, mark_of, strip_svg
from recipes.dyeing.units import (
    format_celsius,
    format_grams,
    format_litres,
    format_millilitres,
    format_minutes,
    format_ratio,
)
from recipes.dyeing.working import Exact, Working

# Each next one is tried when the card does not fit on one page: smaller type, and at each of the smallest without the small
# print of the workings too. What even the last cannot hold goes over two pages.
FITS = (
    ("roomy", True),
    ("close", True),
    ("tight", True),
    ("tight", False),
    ("tight smallest", True),
    ("tight smallest", False),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CardAddition:
    """One thing to put in, or to do, in its order.

    `minute` counts from the start, None where no time is known. The amount is milligrams to weigh, microlitres to measure,
    or `words` (“2 pinches”, “until pH 4.5”). `how` says with what: “weigh the powder”, “of the 1 % stock”.
    `note` is what there is to know: the depth that results, a rounding, a warning.
    """

    what: str
    minute: int | None = None
    milligrams: int | None = None
    microlitres: int | None = None
    words: str = ""
    how: str = ""
    note: str = ""

    def amount(self, *, us: bool) -> str:
        """The amount as it is read at the scale or the cylinder."""
        if self.milligrams is not None:
            return format_grams(self.milligrams, us=us)
        if self.microlitres is not None:
            return format_millilitres(self.microlitres, us=us)
        return self.words


@dataclass(frozen=True, slots=True)
class HeatPoint:
    """Where the bath's temperature turns: a minute from the start and hundredths of a degree."""

    minute: int
    centi_celsius: int


@dataclass(frozen=True, slots=True)
class StockToMix:
    """A bottle to have ready: what, how much of it is wanted, and what there is to do."""

    name: str
    needed_microlitres: int
    left_microlitres: int
    to_do: str


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that is not as with the reference lot, and what it does."""

    what: str
    does: str


@dataclass(frozen=True, slots=True)
class LayPart:
    """A section of the hank as it lies: its share in hundredths, its colour as #rrggbb, and what is said of it.

    `name` is its own letter or name, `extent` how far it goes in words; where they are empty it goes by its place in the
    row and its share.
    """

    share_percent: int
    chip: str
    label: str
    name: str = ""
    extent: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DyeCard:
    """What one card says. `colourway` is the name as it may be shown; `cautions` are full sentences, worst first.

    `number` says which of a redye's pots it is, where there are several; `look_for` what tells that it comes out right.

    `workings` are the lines of `working_lines`. `heat_lines` are the programme in words, each with the clock at which it
    begins; without them they are read off the points of `heat`.
    """

    studio: str
    code: str
    colourway: str
    base: str
    way: str
    date: str
    pieces: int
    dry_milligrams: int
    vessel: str
    bath_microlitres: int
    liquor_ratio: Exact
    additions: Sequence[CardAddition]
    heat: Sequence[HeatPoint] = ()
    heat_lines: Sequence[tuple[str, str]] = ()
    heat_note: str = ""
    stocks: Sequence[StockToMix] = ()
    reference: str = ""
    differences: Sequence[Difference] = ()
    presoak: str = ""
    cooling: str = ""
    lay: Sequence[LayPart] = ()
    lay_words: str = ""
    folded: bool = False
    look_for: Sequence[str] = ()
    cautions: Sequence[str] = ()
    workings: Sequence[str] = ()
    number: str = ""
    picture: bytes | None = None
    us_units: bool = False
    paper: str = "A4"

    @property
    def texts(self) -> tuple[str, ...]:
        """Every text that people wrote, for a look at what the fonts lack."""
        return (
            self.studio,
            self.colourway,
            self.base,
            self.vessel,
            self.lay_words,
            self.presoak,
            self.cooling,
            *(part.label for part in self.lay),
            *(f"{addition.what}{addition.words}{addition.how}{addition.note}" for addition in self.additions),
            *(stock.name for stock in self.stocks),
            *(words for _, words in self.heat_lines),
        )


def dye_card(card: DyeCard) -> bytes:
    """A PDF of one card: one page, in smaller type when there is much to say, at last without the workings' small print.

    Two pages only for more steps than a page has lines.

    Raises PaperUnavailable.
    """
    pictures = {"code": make_qr(card.code, error="Q", dots=7).png}
    if card.picture is not None:
        pictures["photo"] = card.picture
    document = None
    for density, workings in FITS:
        document = laid_out(
            "paper/dye_card.html",
            _context(card, density, workings=workings),
            stylesheet="dye_card.css",
            pictures=pictures,
        )
        if len(document.pages) == 1:
            break
    return pdf_bytes(document)


def dye_cards(cards: Sequence[DyeCard]) -> bytes:
    """One PDF of several cards, each beginning on a page of its own. Raises PaperUnavailable."""
    import pikepdf

    with pikepdf.new() as together:
        for card in cards:
            with pikepdf.open(io.BytesIO(dye_card(card))) as one:
                together.pages.extend(one.pages)
        together.docinfo["/Title"] = "Dye cards"
        written = io.BytesIO()
        together.save(written, deterministic_id=True)
    return written.getvalue()


def _context(card: DyeCard, density: str, *, workings: bool) -> dict[str, Any]:
    us = card.us_units
    title = shrunk_block("name", card.colourway, 118_000, most=250, least=120)
    return {
        "card": card,
        "density": density,
        "title_tenths": title.tenths,
        "title_lines": title.lines,
        "facts": [
            ("Pieces", str(card.pieces) if card.pieces else "a strip"),
            ("Dry weight", format_grams(card.dry_milligrams, us=us)),
            ("Vessel", card.vessel),
            ("Bath", format_litres(card.bath_microlitres, us=us)),
            ("Liquor ratio", format_ratio(card.liquor_ratio)),
            *([("Pre-soak", card.presoak)] if card.presoak else []),
            *([("Cooling", card.cooling)] if card.cooling else []),
        ],
        "additions": [
            {
                "number": number,
                "at": clock(addition.minute),
                "what": addition.what,
                "amount": addition.amount(us=us),
                "how": addition.how,
                "note": addition.note,
            }
            for number, addition in enumerate(card.additions, 1)
        ],
        # A short recipe leaves room to write down what was made up on the way.
        "spare_rows": range(max(1, min(4, 9 - len(card.additions)))),
        "steps": card.heat_lines or heat_steps(card.heat, us=us),
        "programme": programme_svg([(point.minute, point.centi_celsius) for point in card.heat]),
        "stocks": [
            {
                "name": stock.name,
                "needed": format_millilitres(stock.needed_microlitres, us=us),
                "left": format_millilitres(stock.left_microlitres, us=us),
                "to_do": stock.to_do,
            }
            for stock in card.stocks
        ],
        "lay": strip_svg(
            [
                StripPart(Fraction(part.share_percent), part.chip, mark_of(part.name or _letter(at), at + 1))
                for at, part in enumerate(card.lay)
            ],
            folded=card.folded,
        ),
        "lay_parts": [
            {
                "name": part.name or _letter(at),
                "number": at + 1 if len(part.name) > LONGEST_MARK else None,
                "label": part.label,
                "extent": part.extent or f"{part.share_percent} %",
            }
            for at, part in enumerate(card.lay)
        ],
        "workings": card.workings if workings else (),
        "workings_left_out": bool(card.workings) and not workings,
    }


def _letter(at: int) -> str:
    return chr(ord("A") + at)


def working_lines(named: Sequence[tuple[str, Sequence[Working]]]) -> tuple[str, ...]:
    """How amounts were worked out, a line each for the card's small print; the last line is where the rules are from."""
    lines = [
        f"{what}: {'; '.join(f'{working.substitution} = {working.result}' for working in workings)}."
        for what, workings in named
    ]
    sources = dict.fromkeys(str(working.source) for _, workings in named for working in workings)
    return (*lines, f"Rules from: {'; '.join(sources)}.") if sources else tuple(lines)


def clock(minute: int | None) -> str:
    """Minutes from the start as a clock that was set going then: 0:05, 1:20; a dash where no time is known."""
    return "–" if minute is None else f"{minute // 60}:{minute % 60:02d}"


def heat_steps(points: Sequence[HeatPoint], *, us: bool) -> list[tuple[str, str]]:
    """The programme in words, each step with the clock at which it begins."""
    steps = []
    if points:
        steps.append((clock(points[0].minute), f"Start at {format_celsius(points[0].centi_celsius, us=us)}."))
    for before, after in pairwise(points):
        takes = format_minutes(after.minute - before.minute)
        there = format_celsius(after.centi_celsius, us=us)
        if after.centi_celsius == before.centi_celsius:
            words = f"Hold {there} for {takes}."
        elif after.centi_celsius > before.centi_celsius:
            words = f"Heat to {there} in {takes}."
        else:
            words = f"Let it cool to {there}, about {takes}."
        steps.append((clock(before.minute), words))
    return steps
