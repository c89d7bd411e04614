"""The lay: how a hank lies and which sections along it get which colour, as lengths or as parts of the whole.

A hank is a loop. Laid open it is one way round long, its circumference. Folded, its two legs lie on each other, so that it is
half as long and every section lies on both legs: the yarn passes it twice on its way round. Lengths are whole millimetres,
parts exact fractions of the hank as it lies.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from recipes.dyeing import sources
from recipes.dyeing.techniques import format_centimetres
from recipes.dyeing.units import LENGTH_UNITS, NumberUnclear, format_number, format_percent, parse_decimal
from recipes.dyeing.working import DyeingError, Figure, Working

MOST_SECTIONS = 12
LONGEST_NAME = 20
LONGEST_WORDS = 80
#: A longer hank than this is not wound; common practice of the trade, no source.
MOST_MILLIMETRES = 5_000
REST = "rest"
_COLOUR = re.compile(r"#[0-9a-fA-F]{6}")
_PARTS = {
    "whole": Fraction(1),
    "half": Fraction(1, 2),
    "third": Fraction(1, 3),
    "quarter": Fraction(1, 4),
    "fifth": Fraction(1, 5),
    "sixth": Fraction(1, 6),
    "eighth": Fraction(1, 8),
}
_COUNTS = {"a": 1, "an": 1, "one": 1, "two": 2, "three": 3}


class LayUnclear(DyeingError):
    """A lay that cannot be: sections that do not fit on the hank, two of one name, or an extent that is none.

    `row` is the section it is about, counted from 0; None for the lay as a whole.
    """

    def __init__(self, sentence: str, *, row: int | None = None, field: str = "extent") -> None:
        super().__init__(sentence)
        self.row, self.field = row, field


@dataclass(frozen=True, slots=True)
class Section:
    """One section along the hank. Exactly one of `share` and `millimetres` is known; neither is "the rest of it"."""

    name: str
    share: Fraction | None = None
    millimetres: int | None = None
    words: str = ""
    colour: str = ""

    @property
    def is_rest(self) -> bool:
        return self.share is None and self.millimetres is None

    @property
    def extent(self) -> str:
        """How far it goes as it is typed: "1/3", "20 cm", "rest"."""
        if self.millimetres is not None:
            return f"{format_number(Fraction(self.millimetres, 10), 1)} cm"
        if self.share is None:
            return REST
        hundredths = self.share * 100
        if self.share.denominator in (1, 2, 3, 4, 5, 6, 8):
            return "whole" if self.share == 1 else str(self.share)
        return f"{format_number(hundredths, 3)} %"


@dataclass(frozen=True, slots=True)
class Span:
    """Where a section lies: from and to as shares of the hank as it lies; the name is "" where nothing was said."""

    name: str
    start: Fraction
    end: Fraction
    words: str = ""
    colour: str = ""

    @property
    def share(self) -> Fraction:
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class Lay:
    """The sections of a hank in their order along it, whether it lies folded, and how long it is once round."""

    sections: tuple[Section, ...] = ()
    folded: bool = False
    circumference_millimetres: int | None = None

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(section.name for section in self.sections)

    @property
    def whole_millimetres(self) -> Fraction | None:
        """How long the hank is as it lies: once round, or half of that folded. None where nobody knows."""
        if self.circumference_millimetres is None:
            return None
        return Fraction(self.circumference_millimetres, 2 if self.folded else 1)

    def section(self, name: str) -> Section | None:
        """The section of a name, however its letters were typed."""
        wanted = name.casefold()
        return next((each for each in self.sections if each.name.casefold() == wanted), None)

    def share_of(self, section: Section) -> Fraction | None:
        """A section as a share of the hank; None for a length on a hank of unknown circumference."""
        if section.share is not None:
            return section.share
        if section.millimetres is not None:
            whole = self.whole_millimetres
            return None if whole is None else section.millimetres / whole
        taken = [self.share_of(each) for each in self.sections if not each.is_rest]
        known = [share for share in taken if share is not None]
        return 1 - sum(known, Fraction(0)) if len(known) == len(taken) else None

    def length_of(self, section: Section) -> Figure[Fraction] | None:
        """A section's length in millimetres with its working; None where the circumference is not known."""
        share, whole, round_ = self.share_of(section), self.whole_millimetres, self.circumference_millimetres
        if share is None or whole is None or round_ is None:
            return None
        length = share * whole
        lies = f"{format_centimetres(round_)} ÷ 2" if self.folded else format_centimetres(round_)
        return Figure(
            length,
            Working(
                title=f"Section {section.name}",
                formula="its part × the hank as it lies (folded: half its circumference)",
                substitution=f"{share_words(share)} × {lies}",
                result=format_centimetres(length),
                source=sources.DEFINITION,
            ),
        )

    def spans(self) -> list[Span]:
        """Where each section lies, and what is left over at the end, for drawing.

        Lengths on a hank of unknown circumference are drawn beside each other, as if they were all of it.
        """
        if not self.sections:
            return []
        shares = [self.share_of(section) for section in self.sections]
        if any(share is None for share in shares):
            total = sum(section.millimetres or 0 for section in self.sections)
            shares = [Fraction(section.millimetres or 0, total or 1) for section in self.sections]
        found, at = [], Fraction(0)
        for section, share in zip(self.sections, shares, strict=True):
            end = at + (share or Fraction(0))
            if end > at:
                found.append(Span(section.name, at, end, section.words, section.colour))
            at = end
        if at < 1:
            found.append(Span("", at, Fraction(1)))
        return found

    def coloured_by(self, put_on: Iterable[tuple[str, str]]) -> Lay:
        """The same with a colour for each section that has none: that of the first dye that went on it.

        `put_on` are sections as entries name them, with the colour of the dye; what went all over colours the rest.
        """
        chips: dict[str, str] = {}
        for named, chip in put_on:
            if _COLOUR.fullmatch(chip):
                for name in named.split(","):
                    chips.setdefault(name.strip().casefold(), chip)
        return replace(
            self,
            sections=tuple(
                each
                if each.colour
                else replace(each, colour=chips.get(each.name.casefold()) or chips.get("", ""))
                for each in self.sections
            ),
        )

    @property
    def described(self) -> list[tuple[Section, Figure[Fraction] | None]]:
        """Each section with its length and how that came about, for a list beside the strip."""
        return [(section, self.length_of(section)) for section in self.sections]

    @property
    def words(self) -> str:
        """The lay in a line: "A 1/3 (50 cm), red; B 20 cm; folded, so each lies on both legs"."""
        said = []
        for section in self.sections:
            length = self.length_of(section) if section.millimetres is None else None
            extent = "the rest" if section.is_rest else section.extent
            beside = f" ({format_centimetres(length.value)})" if length is not None else ""
            words = f", {section.words}" if section.words else ""
            said.append(f"{section.name} {extent}{beside}{words}")
        if self.folded:
            said.append("folded, so each lies on both legs")
        return "; ".join(said)


def share_words(share: Fraction) -> str:
    """A share as people say it: 1/3, 1/2, 37.5 %."""
    return str(share) if share.denominator <= 8 else format_percent(share * 100)


def read_extent(text: str) -> tuple[Fraction | None, int | None]:
    """A share or a length in millimetres from what was typed: "1/3", "a third", "25 %", "20 cm", "8 in"; "rest" is neither.

    Raises LayUnclear.
    """
    said = " ".join(text.casefold().replace("½", " 1/2").replace("¼", " 1/4").replace("⅓", " 1/3").split())
    if said in (REST, "the rest", "what is left"):
        return None, None
    if (part := _part(said)) is not None:
        return _checked_share(part, text), None
    number, unit = _number_and_unit(said)
    if number is None:
        raise LayUnclear(
            f"“{text.strip()}” is no part of a hank. Write, for example, 1/3, 25 %, 20 cm or rest."
        )
    if unit in ("%", "percent", "per cent"):
        return _checked_share(number / 100, text), None
    if unit in LENGTH_UNITS or unit in ("inch", "inches"):
        return None, _checked_length(number * LENGTH_UNITS["in" if unit.startswith("in") else unit], text)
    raise LayUnclear(f"“{text.strip()}” needs a unit. Write, for example, 20 cm or 25 %.")


def _part(said: str) -> Fraction | None:
    fraction = re.fullmatch(r"(\d{1,3}) ?/ ?(\d{1,3})", said)
    if fraction:
        return Fraction(int(fraction[1]), int(fraction[2])) if int(fraction[2]) else None
    words = [word for word in said.replace("-", " ").split() if word not in ("of", "the", "it", "hank")]
    count = _COUNTS.get(words[0]) if len(words) == 2 else 1 if len(words) == 1 else None
    if count is None or not words:
        return None
    part = _PARTS.get(words[-1]) or _PARTS.get(words[-1].removesuffix("s"))
    return None if part is None else count * part


def _number_and_unit(said: str) -> tuple[Fraction | None, str]:
    found = re.fullmatch(r"([\d.,]+) ?([a-z%]+(?: [a-z]+)?|)", said)
    if not found:
        return None, ""
    try:
        return Fraction(parse_decimal(found[1])), found[2]
    except NumberUnclear:
        return None, ""


def _checked_share(share: Fraction, typed: str) -> Fraction:
    if not 0 < share <= 1:
        raise LayUnclear(
            f"“{typed.strip()}” is not a part of one hank. Parts are above nothing and at most the whole."
        )
    return share


def _checked_length(millimetres: Fraction, typed: str) -> int:
    whole = round(millimetres)
    if not 0 < whole <= MOST_MILLIMETRES:
        raise LayUnclear(f"“{typed.strip()}” is no length along a hank. Write, for example, 20 cm.")
    return whole


def check_lay(lay: Lay) -> Lay:
    """The lay, when it can be. Raises LayUnclear with what is wrong and what would be right."""
    if len(lay.sections) > MOST_SECTIONS:
        raise LayUnclear(f"More than {MOST_SECTIONS} sections cannot be told apart. Join some of them.")
    seen: set[str] = set()
    for row, section in enumerate(lay.sections):
        _check_names(section, seen, row)
    rests = [row for row, section in enumerate(lay.sections) if section.is_rest]
    if len(rests) > 1:
        raise LayUnclear("Only one section can be the rest. Write how far the others go.", row=rests[1])
    _check_room(lay, bool(rests))
    return lay


def _check_names(section: Section, seen: set[str], row: int) -> None:
    name = section.name
    if not name:
        raise LayUnclear("Give the section a letter or a name, for example A.", row=row, field="name")
    if len(name) > LONGEST_NAME or "," in name or ";" in name:
        raise LayUnclear(
            f"A section's name has at most {LONGEST_NAME} letters and no comma, so that the log can list it.",
            row=row,
            field="name",
        )
    if name.casefold() in seen:
        raise LayUnclear(
            f"There are two sections called {name}. Give each its own name.", row=row, field="name"
        )
    seen.add(name.casefold())


def _check_room(lay: Lay, has_rest: bool) -> None:
    lengths = sum(section.millimetres or 0 for section in lay.sections)
    shares = sum((section.share or Fraction(0) for section in lay.sections), Fraction(0))
    whole = lay.whole_millimetres
    if whole is None:
        if lengths and (shares or has_rest):
            raise LayUnclear(
                "The hank's circumference is not known, so lengths and parts cannot be fitted together. Write all "
                "sections as lengths or all as parts, or say on the base's page how far the hank is round."
            )
        taken = shares
    else:
        taken = shares + lengths / whole
    if taken > 1:
        over = f"together they are {share_words(taken)} of it" if whole is None else _lengths_over(lay, taken)
        raise LayUnclear(f"The sections do not fit on the hank: {over}. Make some of them shorter.")
    if has_rest and taken == 1:
        raise LayUnclear("Nothing is left for the rest: the other sections are the whole hank already.")


def _lengths_over(lay: Lay, taken: Fraction) -> str:
    whole = lay.whole_millimetres or Fraction(1)
    lies = "folded it is" if lay.folded else "it is"
    return (
        f"together they are {format_centimetres(taken * whole)}, and {lies} {format_centimetres(whole)} long"
    )


def share_of_words(section: str, *, lay: Lay | None, pieces: int | None) -> Fraction | None:
    """The share of the fibre that an entry's section names: sections of the lay, single skeins, "first third".

    None where it cannot be told: a section that no lay names, skeins of an unknown count.
    """
    found = [_one_share(each.strip(), lay, pieces) for each in section.split(",") if each.strip()]
    shares = [share for share in found if share is not None]
    if not shares or len(shares) < len(found) or sum(shares) > 1:
        return None
    return sum(shares, Fraction(0))


def _one_share(name: str, lay: Lay | None, pieces: int | None) -> Fraction | None:
    if lay is not None and (section := lay.section(name)) is not None:
        return lay.share_of(section)
    words = name.casefold().split()
    if words[:1] == ["skein"]:
        return Fraction(1, pieces) if pieces else None
    part = next((_PARTS[word] for word in words if word in _PARTS), None)
    part = part or next((_PARTS[word[:-1]] for word in words if word[:-1] in _PARTS), None)
    count = next((_COUNTS[word] for word in words if word in ("two", "three")), 1)
    return None if part is None or count * part > 1 else count * part


PRESETS: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "whole": ("Whole", ("whole",)),
    "halves": ("Halves", ("1/2", "1/2")),
    "thirds": ("Thirds", ("1/3", "1/3", "1/3")),
    "quarters": ("Quarters", ("1/4", "1/4", "1/4", "1/4")),
    "ends": ("Two ends and a middle", ("1/4", "1/2", "1/4")),
}


def preset(slug: str) -> list[tuple[str, str]]:
    """The names and extents of a usual lay: letters from A on. Raises KeyError."""
    return [(chr(ord("A") + number), extent) for number, extent in enumerate(PRESETS[slug][1])]


def lay_as_json(lay: Lay) -> dict[str, Any]:
    """A lay as it is stored; an empty one is {}."""
    if not lay.sections:
        return {}
    return {
        "folded": lay.folded,
        "circumference_millimetres": lay.circumference_millimetres,
        "sections": [
            {
                "name": section.name,
                "share": None if section.share is None else str(section.share),
                "millimetres": section.millimetres,
                "words": section.words,
                "colour": section.colour,
            }
            for section in lay.sections
        ],
    }


def lay_from_json(stored: Mapping[str, Any] | None) -> Lay | None:
    """A stored lay; None where there is none. What was stored once is read, whatever it says."""
    if not stored or not stored.get("sections"):
        return None
    return Lay(
        sections=tuple(_section(each) for each in stored["sections"]),
        folded=bool(stored.get("folded")),
        circumference_millimetres=stored.get("circumference_millimetres"),
    )


def _section(stored: Mapping[str, Any]) -> Section:
    share = stored.get("share")
    return Section(
        name=str(stored.get("name", "")),
        share=None if share is None else Fraction(str(share)),
        millimetres=stored.get("millimetres"),
        words=str(stored.get("words", "")),
        colour=str(stored.get("colour", "")),
    )


def lay_from_rows(
    rows: Iterable[Sequence[str]], *, folded: bool, circumference_millimetres: int | None
) -> Lay:
    """A lay from rows as typed: name, extent, words, colour. Empty rows are left out. Raises LayUnclear with the row."""
    sections, rows_of_them = [], []
    for row, (name, extent, words, colour) in enumerate(rows):
        if not (name.strip() or extent.strip()):
            continue
        if not extent.strip():
            raise LayUnclear("Write how far it goes, for example 1/3, 20 cm or rest.", row=row)
        try:
            share, millimetres = read_extent(extent)
        except LayUnclear as unclear:
            raise LayUnclear(str(unclear), row=row) from None
        shown = colour if _COLOUR.fullmatch(colour) else ""
        sections.append(
            Section(
                " ".join(name.split()), share, millimetres, " ".join(words.split())[:LONGEST_WORDS], shown
            )
        )
        rows_of_them.append(row)
    try:
        return check_lay(Lay(tuple(sections), folded, circumference_millimetres))
    except LayUnclear as unclear:
        typed = None if unclear.row is None else rows_of_them[unclear.row]
        raise LayUnclear(str(unclear), row=typed, field=unclear.field) from None
