"""Small drawings made as inline SVG: icons, and swatches of yarn wound on a card.

The content security policy forbids style attributes; `fill` and `stroke` are presentation attributes and allowed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from django.utils.html import escape, format_html
from django.utils.safestring import SafeString, mark_safe

Chips = Sequence[str]

HEX = re.compile(r"#[0-9a-fA-F]{6}")
UNDYED = "#e9e4d6"
SWATCH_SIZES = {"large": (128, 96), "strip": (160, 48)}

# Each drawing fits 24 by 24 and is stroked, not filled.
ICONS = {
    "day": '<circle cx="12" cy="13" r="4"/><path d="M12 4v2M4.5 7.5 6 9M19.5 7.5 18 9M2.5 15H5M19 15h2.5M3 20h18"/>',
    "pot": '<path d="M4 9h16v7.5A3.5 3.5 0 0 1 16.5 20h-9A3.5 3.5 0 0 1 4 16.5zM2 11h2M20 11h2M9 6c0-1.2 1-1.2 1-2.4M14 6c0-1.2 1-1.2 1-2.4"/>',
    "skein": '<path d="M12 3c4 0 4 3.5 1.5 6S8 14 8.5 17s3.5 4 3.5 4M12 3c-4 0-4 3.5-1.5 6s5.5 5 5 8-3.5 4-3.5 4M9 5.5h6M8.5 18.5h7"/>',
    "jar": '<path d="M7 3h10v3H7zM8 6v1.5C6.5 8.5 6 9.5 6 11v8a2 2 0 0 0 2 2h8a2 2 0 0 0 2-2v-8c0-1.5-.5-2.5-2-3.5V6M6 13h12M6 17.5h12"/>',
    "parcel": '<path d="M3.5 7.5 12 3l8.5 4.5v9L12 21l-8.5-4.5zM3.5 7.5 12 12l8.5-4.5M12 12v9M7.7 5.3l8.5 4.5"/>',
    "shelf": '<path d="M4 3v18M20 3v18M4 11h16M4 19h16M7.5 11V7.5a1.5 1.5 0 0 1 3 0V11M13 11V7.5a1.5 1.5 0 0 1 3 0V11M8.5 19v-3.5a1.5 1.5 0 0 1 3 0V19"/>',
    "bottle": '<path d="M10 2.5h4v4l2.5 3.5v9.5a2 2 0 0 1-2 2h-5a2 2 0 0 1-2-2V10L10 6.5zM7.5 14h9"/>',
    "jug": '<path d="M5 4h12l-1 16a1 1 0 0 1-1 1H8a1 1 0 0 1-1-1L6 7 3.5 5.5M16.7 8H19a1.5 1.5 0 0 1 1.5 1.5v4A2.5 2.5 0 0 1 18 16h-1.7M6.5 12.5h10"/>',
    "scale": '<path d="M4 20h16l-1.5-9h-13zM6 11l-.5-4h13l-.5 4M12 17.5a2.5 2.5 0 1 0-2.5-2.5M12 15l1.5-1.5"/>',
    "flame": '<path d="M12 3c.5 3.5 5.5 5.5 5.5 11a5.5 5.5 0 0 1-11 0c0-2 .8-3.5 2-4.5.3 1.5 1 2 1.5 2C10 8.5 10.5 5 12 3z"/>',
    "thermometer": '<path d="M10 4a2 2 0 0 1 4 0v9.5a4 4 0 1 1-4 0zM12 9v8"/><circle cx="12" cy="17" r="1"/>',
    "drop": '<path d="M12 3.5c3 4 5.5 6.5 5.5 10a5.5 5.5 0 0 1-11 0c0-3.5 2.5-6 5.5-10z"/>',
    "photo": '<path d="M3 8h4l1.5-2.5h7L17 8h4v11H3z"/><circle cx="12" cy="13" r="3.5"/>',
    "note": '<path d="M5 3h14v18H5zM8 8h8M8 12h8M8 16h5"/>',
    "label": '<path d="M3 12 12 3h9v9l-9 9z"/><circle cx="16.5" cy="7.5" r="1.25"/>',
    "printer": '<path d="M7 8V3h10v5M5 17H3V8h18v9h-2M7 14h10v7H7z"/>',
    "person": '<circle cx="12" cy="8" r="4"/><path d="M4.5 21c.5-4.5 3.5-6.5 7.5-6.5s7 2 7.5 6.5"/>',
    "phone": '<path d="M7 2.5h10v19H7zM10.5 18.5h3"/>',
    "clock": '<circle cx="12" cy="12" r="9"/><path d="M12 7v5.5l3.5 2"/>',
    "search": '<circle cx="10.5" cy="10.5" r="6.5"/><path d="m15.5 15.5 5 5"/>',
    "plus": '<path d="M12 5v14M5 12h14"/>',
    "minus": '<path d="M5 12h14"/>',
    "check": '<path d="m5 12.5 4.5 4.5L19 7"/>',
    "strike": '<path d="M4 12h16M8 7h8M8 17h8"/>',
    "cross": '<path d="m6 6 12 12M18 6 6 18"/>',
    "pencil": '<path d="m4 20 1-4.5L16 4.5l3.5 3.5L8.5 19zM13.5 7l3.5 3.5"/>',
    "back": '<path d="M15 5l-7 7 7 7"/>',
    "forward": '<path d="m9 5 7 7-7 7"/>',
    "again": '<path d="M19.5 12a7.5 7.5 0 1 1-2.2-5.3L20 9M20 4v5h-5"/>',
    "info": '<circle cx="12" cy="12" r="9"/><path d="M12 11v5.5M12 7.5v.1"/>',
    "warn": '<path d="M12 3.5 22 20H2zM12 10v5M12 17.5v.1"/>',
    "caution": '<path d="M8 2.5h8l5.5 5.5v8L16 21.5H8L2.5 16V8zM12 7v6M12 16.5v.1"/>',
    "mask": '<path d="M6 9c4-2.5 8-2.5 12 0v5c-2 4-10 4-12 0zM6 10.5H3M18 10.5h3M9 12.5h6"/>',
    "bin": '<path d="M4 7h16M9 7V4h6v3M6 7l1 14h10l1-14M10 11v6M14 11v6"/>',
    "star": '<path d="m12 3.5 2.6 5.6 6.1.7-4.5 4.2 1.2 6L12 17l-5.4 3 1.2-6-4.5-4.2 6.1-.7z"/>',
}


def icon_svg(name: str, *, label: str = "", small: bool = False) -> SafeString:
    """The drawing called `name`. Raises KeyError for one that is not in ICONS."""
    spoken = format_html('role="img" aria-label="{}"', label) if label else mark_safe('aria-hidden="true"')
    return format_html(
        '<svg class="icon{}" viewBox="0 0 24 24" {}>{}</svg>',
        " icon-small" if small else "",
        spoken,
        mark_safe(ICONS[name]),  # noqa: S308 - our own constant
    )


def swatch_svg(chips: Chips, *, size: str = "", label: str = "") -> SafeString:
    """Yarn wound on a card: slanting wraps that take the colours in turn, as a wound length would show them.

    Colours that are no #rrggbb are left out; without any it is drawn undyed.
    """
    colours = [chip for chip in chips if isinstance(chip, str) and HEX.fullmatch(chip)] or [UNDYED]
    wide, tall = SWATCH_SIZES.get(size, (48, 48))
    wrap, slant = 4, 3
    count = (wide + slant) // wrap + 2
    wraps: dict[str, list[str]] = {colour: [] for colour in colours}
    for index in range(count):
        left = index * wrap - slant
        # Every colour shows in a block of neighbouring wraps when there are many wraps to share out.
        colour = (
            colours[index * len(colours) // count] if size == "strip" else colours[_turn(index, len(colours))]
        )
        wraps[colour].append(f"M{left} {tall}l{slant}-{tall}h{wrap}l-{slant} {tall}z")
    body = "".join(
        f'<path fill="{escape(colour)}" d="{"".join(parts)}"/>' for colour, parts in wraps.items() if parts
    )
    edges = "".join(f"M{index * wrap - slant} {tall}l{slant}-{tall}" for index in range(count))
    shade = "".join(f"M{index * wrap - slant + 1.4:.1f} {tall}l{slant}-{tall}" for index in range(count))
    # Hand-dyed yarn is never quite even: some wraps a little deeper.
    deeper = "".join(
        f"M{index * wrap - slant} {tall}l{slant}-{tall}h{wrap}l-{slant} {tall}z"
        for index in range(count)
        if index * index % 7 in (2, 4) or index % 11 == 5
    )
    spoken = format_html('role="img" aria-label="{}"', label) if label else mark_safe('aria-hidden="true"')
    return format_html(
        '<svg class="swatch{}" viewBox="0 0 {} {}" preserveAspectRatio="xMidYMid slice" {}>{}'
        '<path d="{}" fill-opacity="0.1"/>'
        '<path d="{}" fill="none" stroke="#000" stroke-opacity="0.22" stroke-width="0.7"/>'
        '<path d="{}" fill="none" stroke="#fff" stroke-opacity="0.2" stroke-width="0.9"/></svg>',
        f" swatch-{size}" if size else "",
        wide,
        tall,
        spoken,
        mark_safe(body),  # noqa: S308 - built from checked colours and numbers
        deeper,
        edges,
        shade,
    )


def _turn(index: int, colours: int) -> int:
    """Which colour a wrap shows: runs of uneven length, so that it reads as yarn and not as a flag."""
    return (index * 5 // 7 + index // 5) % colours
