"""Pictures of skeins drawn from colours, for the demonstration house: believable, and the same for the same seed."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from enum import Enum

from PIL import Image, ImageColor, ImageDraw, ImageFilter

from dyehouse.studio.images import CleanPhoto, encode, fitted

Colour = tuple[int, int, int]
Along = Callable[[float], Colour]

TABLES: tuple[Colour, ...] = ((228, 226, 219), (214, 217, 214), (233, 230, 226), (205, 203, 197))
STRANDS = 62
CORE = 14
STEPS = 58


class Kind(Enum):
    """How the colours lie on the yarn."""

    SOLID = "solid"
    TONAL = "tonal"
    VARIEGATED = "variegated"
    SPECKLED = "speckled"
    GRADIENT = "gradient"


def skein_photo(
    chips: Sequence[str],
    *,
    kind: Kind | str = Kind.TONAL,
    seed: int | str = 0,
    width: int = 960,
    height: int = 720,
) -> CleanPhoto:
    """A skein in these #rrggbb colours as a photo that can be stored. Raises ValueError without a colour."""
    picture = draw_skein(chips, kind=kind, seed=seed, width=width, height=height)
    small = fitted(picture, 480)
    return CleanPhoto(jpeg=encode(picture, 84), thumbnail=encode(small, 80), width=width, height=height)


def draw_skein(
    chips: Sequence[str],
    *,
    kind: Kind | str = Kind.TONAL,
    seed: int | str = 0,
    width: int = 960,
    height: int = 720,
) -> Image.Image:
    """A twisted hank on a pale table, lit from the upper left."""
    if not chips:
        raise ValueError("A skein needs at least one colour.")
    colours = [_rgb(chip) for chip in chips]
    # Seeded by a string, so that every Python draws the same picture.
    chance = random.Random(f"skein {seed}")  # noqa: S311 - a drawing, not a secret
    picture = _table(chance, width, height)
    segments = _hank(chance, colours, Kind(kind), width, height)
    _shadow(picture, segments, width, height)
    draw = ImageDraw.Draw(picture)
    for _, start, end, colour, thick in segments:
        draw.line((start, end), fill=colour, width=thick)
    return picture.filter(ImageFilter.GaussianBlur(width / 1600))


Segment = tuple[float, tuple[float, float], tuple[float, float], Colour, int]


def _hank(chance: random.Random, colours: list[Colour], kind: Kind, width: int, height: int) -> list[Segment]:
    """The strands of two bundles turning about each other, as short lines from the back to the front."""
    length, tilt = width * 0.8, math.radians(chance.uniform(-9, 9))
    orbit, bundle = height * 0.098, height * 0.118
    turns, twist, phase = chance.uniform(1.9, 2.5), chance.uniform(2.5, 3.5), chance.uniform(0, math.tau)
    cos_tilt, sin_tilt = math.cos(tilt), math.sin(tilt)
    segments: list[Segment] = []
    for half in (0, 1):
        for strand in range(STRANDS + CORE):
            # The last few lie inside, wide and dark: what is seen between the others.
            inside = strand >= STRANDS
            angle = math.tau * strand / (CORE if inside else STRANDS) + chance.uniform(-0.06, 0.06)
            depth = bundle * (0.72 if inside else chance.uniform(0.86, 1.02))
            thick = round(width / (28 if inside else 150))
            along = _dyed(chance, colours, kind, half, strand / STRANDS)
            before: tuple[float, float] | None = None
            for step in range(STEPS + 1):
                part = step / STEPS
                # The ends of a hank close in, where it is folded back on itself.
                narrow = (1 - abs(2 * part - 1) ** 5) ** 0.5
                orbiting = phase + math.tau * turns * part / 2 + half * math.pi
                turning = angle + math.tau * twist * part / 2
                up, near = math.sin(turning), math.cos(turning)
                y = narrow * (orbit * math.sin(orbiting) + depth * up)
                z = narrow * (orbit * math.cos(orbiting) + depth * near)
                x = (part - 0.5) * length
                point = (width / 2 + x * cos_tilt - y * sin_tilt, height / 2 + x * sin_tilt + y * cos_tilt)
                if before is not None and z > -bundle * 0.6 and not (inside and abs(2 * part - 1) > 0.86):
                    light = 0.72 + 0.2 * near - 0.2 * up + 0.16 * z / (orbit + bundle)
                    grain = 1 + 0.05 * ((step * 7 + strand * 5) % 3 - 1)
                    segments.append(
                        (z, before, point, _lit(along(part), light * (0.6 if inside else grain)), thick)
                    )
                before = point
    segments.sort(key=lambda segment: segment[0])
    return segments


def _dyed(chance: random.Random, colours: list[Colour], kind: Kind, half: int, across: float) -> Along:
    """The colour along one strand, from 0 at one end of the hank to 1 at the other."""
    shift, own = chance.uniform(-0.035, 0.035), chance.uniform(0.96, 1.04)
    if kind is Kind.SOLID:
        return lambda part: _lit(colours[0], own)
    if kind is Kind.GRADIENT:
        flat = _between(colours, min(1.0, max(0.0, across + shift)))
        return lambda part: _lit(flat, own)
    if kind is Kind.SPECKLED:
        spots = [
            (chance.random(), chance.uniform(0.008, 0.03), chance.choice(colours[1:] or colours))
            for _ in range(5)
        ]

        def speckled(part: float) -> Colour:
            for centre, reach, colour in spots:
                if abs(part - centre) < reach:
                    return colour
            return _lit(colours[0], own)

        return speckled
    if kind is Kind.VARIEGATED:
        count = len(colours)

        def variegated(part: float) -> Colour:
            # Front and back of the loop lie in the dye as one ring: the second half goes on where the first ended.
            place = ((half + (part if half == 0 else 1 - part)) / 2 + shift * 0.7) % 1 * count * 1.5
            blend = min(1.0, max(0.0, (place % 1 - 0.82) / 0.18))
            return _mixed(colours[int(place) % count], colours[(int(place) + 1) % count], blend)

        return variegated
    wave, start = chance.uniform(1.2, 2.4), chance.uniform(0, 0.6) + half * 1.7

    def tonal(part: float) -> Colour:
        swing = math.sin(math.tau * (wave * part / 2 + start)) * 0.5 + 0.5
        return _lit(_between(colours, swing), own * (1.1 - 0.24 * swing))

    return tonal


def _table(chance: random.Random, width: int, height: int) -> Image.Image:
    """A pale table, a little darker away from the window."""
    base = chance.choice(TABLES)
    slope = Image.linear_gradient("L").rotate(chance.choice((30, 45, 60)), resample=Image.Resampling.BILINEAR)
    # Turning leaves empty corners; the middle of the gradient has none.
    light = slope.crop((75, 75, 181, 181)).resize((width, height), Image.Resampling.BICUBIC)
    return Image.composite(
        Image.new("RGB", (width, height), _lit(base, 0.93)),
        Image.new("RGB", (width, height), _lit(base, 1.03)),
        light,
    )


def _shadow(picture: Image.Image, segments: list[Segment], width: int, height: int) -> None:
    """The soft shadow that the hank throws, drawn small because it is blurred anyway."""
    shrink = 6
    mask = Image.new("L", (width // shrink, height // shrink), 0)
    draw = ImageDraw.Draw(mask)
    for _, start, end, _, _ in segments[::3]:
        draw.line(
            ((start[0] / shrink + 2, start[1] / shrink + 4), (end[0] / shrink + 2, end[1] / shrink + 4)),
            fill=150,
            width=3,
        )
    soft = mask.filter(ImageFilter.GaussianBlur(4)).resize((width, height), Image.Resampling.BILINEAR)
    picture.paste(Image.new("RGB", (width, height), (60, 58, 54)), mask=soft)


def _rgb(chip: str) -> Colour:
    red, green, blue = ImageColor.getrgb(chip)[:3]
    return red, green, blue


def _lit(colour: Colour, light: float) -> Colour:
    red, green, blue = (min(255, max(0, round(part * light))) for part in colour)
    return red, green, blue


def _mixed(one: Colour, other: Colour, share: float) -> Colour:
    red, green, blue = (round(a + (b - a) * share) for a, b in zip(one, other, strict=True))
    return red, green, blue


def _between(colours: list[Colour], share: float) -> Colour:
    """The colour so far along the row of colours."""
    place = share * (len(colours) - 1)
    index = min(int(place), len(colours) - 2) if len(colours) > 1 else 0
    return _mixed(colours[index], colours[min(index + 1, len(colours) - 1)], place - index)
