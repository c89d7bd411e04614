"""Small drawings for the dye card, as SVG made of numbers and checked colours alone."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from django.utils.safestring import SafeString, mark_safe

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


def _text(x: int, y: int, words: str, colour: str, size: int = 27, anchor: str = "middle") -> str:
    return (
        f'<text x="{x}" y="{y}" text-anchor="{anchor}" font-family="Source Sans Pro" font-size="{size}" '
        f'font-weight="600" fill="{colour}">{words}</text>'
    )


def _svg(wide: int, high: int, marks: Sequence[str]) -> SafeString:
    return mark_safe(  # noqa: S308 - numbers, our own words and checked colours
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}">{"".join(marks)}</svg>'
    )
