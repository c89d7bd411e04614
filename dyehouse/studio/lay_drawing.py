"""How a hank lies, drawn as a strip: its sections by their length, on both legs where it is folded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe

from dyehouse.studio.drawing import HEX, UNDYED
from recipes.dyeing.lay import Lay

INK, SOFT = "#1a2420", "#4d5953"
WIDE, LEFT, RIGHT = 860, 30, 830
LEG, GAP, TOP = 64, 34, 12
#: A longer mark does not fit its circle; the section's number stands for it.
LONGEST_MARK = 2
#: Narrower sections have no room for a mark.
NARROWEST_MARKED = 40


@dataclass(frozen=True, slots=True)
class StripPart:
    """One section of the strip: its share of the hank, its colour as #rrggbb, and its mark; no mark is left undyed."""

    share: Fraction
    colour: str = ""
    mark: str = ""


def mark_of(name: str, number: int) -> str:
    """What stands in a section's circle: its letter, else its number from 1."""
    return name if len(name) <= LONGEST_MARK else str(number)


def parts_of(lay: Lay) -> list[StripPart]:
    """The strip of a lay, what is left over at its end included."""
    return [
        StripPart(span.share, span.colour, mark_of(span.name, number) if span.name else "")
        for number, span in enumerate(lay.spans(), start=1)
    ]


def strip_svg(parts: Sequence[StripPart], *, folded: bool, label: str = "") -> SafeString:
    """The strip as inline SVG; empty without parts. A colour that is no #rrggbb is drawn undyed.

    Folded, the second leg lies under the first and has every section again: the yarn passes it on its way back.
    """
    total = sum((part.share for part in parts), Fraction(0))
    if not total:
        return SafeString("")
    legs = (TOP, TOP + LEG + GAP) if folded else (TOP,)
    high = legs[-1] + LEG + TOP
    marks = [_bends(legs)] if folded else []
    for top in legs:
        marks.append(_leg(parts, total, top))
    spoken = format_html('role="img" aria-label="{}"', label) if label else mark_safe('aria-hidden="true"')
    return format_html(
        '<svg xmlns="http://www.w3.org/2000/svg" class="lay-strip" viewBox="0 0 {} {}" {}>{}</svg>',
        WIDE,
        high,
        spoken,
        mark_safe("".join(marks)),  # noqa: S308 - numbers, checked colours and escaped marks
    )


def _leg(parts: Sequence[StripPart], total: Fraction, top: int) -> str:
    drawn, at = [], Fraction(0)
    for part in parts:
        begin = LEFT + int(at / total * (RIGHT - LEFT))
        at += part.share
        end = LEFT + int(at / total * (RIGHT - LEFT))
        drawn.append(_section(part, begin, end, top))
    bottom = top + LEG
    frame = f'<path d="M{LEFT} {top}H{RIGHT}M{LEFT} {bottom}H{RIGHT}" stroke="{INK}" stroke-width="3"/>'
    ends = f'<path d="M{LEFT} {top}V{bottom}M{RIGHT} {top}V{bottom}" stroke="{INK}" stroke-width="3"/>'
    return f"{''.join(drawn)}{_strands(top)}{''.join(_mark(*each) for each in _marks(parts, total, top))}{frame}{ends}"


def _section(part: StripPart, begin: int, end: int, top: int) -> str:
    colour = part.colour if HEX.fullmatch(part.colour) else UNDYED
    bar = f'<rect x="{begin}" y="{top}" width="{end - begin}" height="{LEG}" fill="{colour}"/>'
    if begin == LEFT:
        return bar
    return f'{bar}<path d="M{begin} {top - 8}V{top + LEG + 8}" stroke="{INK}" stroke-width="2.5" stroke-dasharray="8 6"/>'


def _strands(top: int) -> str:
    """The yarn's strands along the leg, so that it reads as yarn and not as a bar."""
    lines = "".join(f"M{LEFT} {top + 8 * strand}H{RIGHT}" for strand in range(1, LEG // 8))
    return (
        f'<path d="{lines}" stroke="#000000" stroke-opacity="0.18" stroke-width="1.5"/>'
        f'<path d="{lines}" stroke="#ffffff" stroke-opacity="0.18" stroke-width="1.5" transform="translate(0 2)"/>'
    )


def _marks(parts: Sequence[StripPart], total: Fraction, top: int) -> list[tuple[int, int, str]]:
    found, at = [], Fraction(0)
    for part in parts:
        middle = LEFT + int((at + part.share / 2) / total * (RIGHT - LEFT))
        wide = int(part.share / total * (RIGHT - LEFT))
        at += part.share
        if part.mark and wide >= NARROWEST_MARKED:
            found.append((middle, top + LEG // 2, part.mark))
    return found


def _mark(x: int, y: int, mark: str) -> str:
    return (
        f'<circle cx="{x}" cy="{y}" r="21" fill="#ffffff" stroke="{INK}" stroke-width="2"/>'
        f'<text x="{x}" y="{y + 9}" text-anchor="middle" font-family="Source Sans Pro, sans-serif" font-size="27" '
        f'font-weight="600" fill="{INK}">{conditional_escape(mark)}</text>'
    )


def _bends(legs: tuple[int, ...]) -> str:
    """The two ends where one leg turns into the other."""
    upper, lower = legs[0] + LEG // 2, legs[1] + LEG // 2
    return (
        f'<path d="M{LEFT} {upper}C-6 {upper} -6 {lower} {LEFT} {lower}M{RIGHT} {upper}C{WIDE + 6} {upper} {WIDE + 6} '
        f'{lower} {RIGHT} {lower}" fill="none" stroke="{SOFT}" stroke-width="6"/>'
    )
