"""Small drawings for the dye card, as SVG made of numbers and checked colours alone."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from django.utils.safestring import SafeString, mark_safe

from dyehouse.studio.drawing import HEX, UNDYED
from recipes.dyeing.units import format_number

INK, SOFT, RULE = "#1a2420", "#4d5953", "#cfd5cd"
WIDE, HIGH = 860, 330
LEFT, RIGHT, TOP, BOTTOM = 46, 822, 34, 276


def programme_svg(points: Sequence[tuple[int, int]]) -> SafeString:
    """The temperature over time: minutes and hundredths of a degree; empty for fewer than two points."""
    if len(points) < 2:
        return SafeString("")
    last = max(minute for minute, _ in points) or 1
    hottest, coldest = max(heat for _, heat in points), min(heat for _, heat in points)
    # The lowest point stands clear of the axis, so that its figure has room below the line.
    span = max(hottest - coldest, 1_000) * 5 // 4
    coldest = hottest - span

    def at(minute: int, heat: int) -> tuple[int, int]:
        return LEFT + minute * (RIGHT - LEFT) // last, BOTTOM - (heat - coldest) * (BOTTOM - TOP) // span

    marks = [
        f'<path d="M{LEFT} {TOP - 14}V{BOTTOM}H{RIGHT + 18}" fill="none" stroke="{SOFT}" stroke-width="2"/>'
    ]
    step = next(step for step in (5, 10, 15, 30, 60, 120, 240, 10_000) if last // step <= 8)
    for minute in range(0, last + 1, step):
        x, _ = at(minute, coldest)
        marks.append(f'<path d="M{x} {BOTTOM}v8" stroke="{SOFT}" stroke-width="2"/>')
        marks.append(_text(x, BOTTOM + 36, f"{minute // 60}:{minute % 60:02d}", SOFT))
    path = " ".join(
        "{}{} {}".format("L" if number else "M", *at(*point)) for number, point in enumerate(points)
    )
    marks.append(
        f'<path d="{path}" fill="none" stroke="{INK}" stroke-width="5" stroke-linejoin="round" stroke-linecap="round"/>'
    )
    for number, (minute, heat) in enumerate(points):
        x, y = at(minute, heat)
        marks.append(f'<circle cx="{x}" cy="{y}" r="7" fill="{INK}"/>')
        before = points[number - 1][1] if number else None
        after = points[number + 1][1] if number + 1 < len(points) else None
        if heat != before:
            marks.append(_degrees(x, y, heat, before, after))
    return _svg(WIDE, HIGH, marks)


def _degrees(x: int, y: int, heat: int, before: int | None, after: int | None) -> str:
    """The figure of a turning point, on the side where the line is not."""
    words = f"{format_number(Fraction(heat, 100), 0)} °C"
    if before is None:
        return _text(x + 14, y + 32 if after is None or after >= heat else y - 14, words, INK, anchor="start")
    if before > heat:
        return _text(x - 12, y + 34, words, INK, anchor="end" if after is None or after <= heat else "middle")
    return _text(x - 12, y - 10, words, INK, anchor="end")


def lay_svg(parts: Sequence[tuple[int, str]], *, folded: bool) -> SafeString:
    """How the yarn lies, seen from above: its parts from left to right by share, lettered; empty without parts.

    Folded yarn is drawn in two layers that meet in a bend on the left. A colour that is no #rrggbb is drawn undyed.
    """
    if not parts:
        return SafeString("")
    total = sum(share for share, _ in parts) or 1
    left, right, top, bottom = 30, 830, 20, 220
    marks = [
        f'<rect x="8" y="4" width="844" height="232" rx="40" fill="none" stroke="{SOFT}" stroke-width="4"/>'
    ]
    start = 0
    strands = _strands(folded, left, right, top, bottom)
    clips = []
    for number, (share, chip) in enumerate(parts):
        begin = left + start * (right - left) // total
        start += share
        end = left + start * (right - left) // total
        colour = chip if HEX.fullmatch(chip) else UNDYED
        clips.append(
            f'<clipPath id="part{number}"><rect x="{begin}" y="0" width="{end - begin}" height="240"/></clipPath>'
        )
        marks.append(
            f'<g clip-path="url(#part{number})"><path d="{strands}" fill="none" stroke="{INK}" stroke-width="21"/>'
            f'<path d="{strands}" fill="none" stroke="{colour}" stroke-width="17"/></g>'
        )
        middle = (begin + end) // 2
        marks.append(
            f'<circle cx="{middle}" cy="120" r="24" fill="#ffffff" stroke="{INK}" stroke-width="2"/>'
        )
        marks.append(_text(middle, 131, chr(ord("A") + number), INK, 32))
        if number:
            marks.append(
                f'<path d="M{begin} 10V230" stroke="{INK}" stroke-width="2.5" stroke-dasharray="9 7"/>'
            )
    return _svg(WIDE, 240, [*clips, *marks])


def _strands(folded: bool, left: int, right: int, top: int, bottom: int) -> str:
    """The yarn as nested loops that lie open, or folded over so that both ends are on the right."""
    paths = []
    for number in range(4):
        inset = number * 24
        upper, lower = top + 16 + inset, bottom - 16 - inset
        bend = (lower - upper) // 2
        near, far = left + 14 + inset + bend // 2, right - 14 - inset // 2
        if folded:
            paths.append(f"M{far} {upper}H{near}Q{left + inset} {upper} {left + inset} {upper + bend}")
            paths.append(f"M{far} {lower}H{near}Q{left + inset} {lower} {left + inset} {upper + bend}")
        else:
            end = right - 14 - inset - bend // 2
            paths.append(
                f"M{near} {upper}H{end}Q{right - inset} {upper} {right - inset} {upper + bend}"
                f"Q{right - inset} {lower} {end} {lower}H{near}"
                f"Q{left + inset} {lower} {left + inset} {upper + bend}Q{left + inset} {upper} {near} {upper}"
            )
    return "".join(paths)


def _text(x: int, y: int, words: str, colour: str, size: int = 27, anchor: str = "middle") -> str:
    return (
        f'<text x="{x}" y="{y}" text-anchor="{anchor}" font-family="Source Sans Pro" font-size="{size}" '
        f'font-weight="600" fill="{colour}">{words}</text>'
    )


def _svg(wide: int, high: int, marks: Sequence[str]) -> SafeString:
    return mark_safe(  # noqa: S308 - numbers, our own words and checked colours
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}">{"".join(marks)}</svg>'
    )
