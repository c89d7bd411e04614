"""What the invented studio wrote down: which colour families its colourways are of, where snips are, and old recipes."""

from __future__ import annotations

import colorsys
import uuid
from datetime import date

from dyehouse.studio.models import User
from recipes.dyeing.families import in_order
from recipes.lots.notebook.reading import NotedPot, NotedRow
from recipes.lots.notebook.taking import Recipe, take_in_notes
from recipes.lots.notebook.things import Things
from recipes.models import Base, Colourway

NAMESPACE = uuid.UUID("2c7c6b0e-3f0b-4c31-9e0e-51d2a4a0d6c9")
A_PAGE = 4
# From so many degrees of the colour circle on a colour is called so.
HUES = ((0, "red"), (18, "orange"), (45, "yellow"), (70, "green"), (165, "teal"), (195, "blue"), (250, "violet"),
        (295, "pink"), (345, "red"))  # fmt: skip
RECIPES: tuple[tuple[str, NotedPot, date, str, tuple[NotedRow, ...]], ...] = (
    (
        "Harrow Sock",
        NotedPot(per_100g=True, bath_microlitres=3_000_000, presoak_minutes=30),
        date(2021, 4, 17),
        "Ferry rope, 100 g: 14 ml straw 1 %, 3 ml brown 1 %, 3 drops brick.\n20 ml vinegar after a quarter hour. Up to 85.",
        (
            NotedRow(1, what="Straw", amount="14 ml", strength="1"),
            NotedRow(2, what="Brown", amount="3 ml", strength="1"),
            NotedRow(3, what="Brick", amount="3 drops", strength="1"),
            NotedRow(4, what="White vinegar", amount="20 ml", minute="15"),
            NotedRow(5, step="85 C", minute="50"),
        ),
    ),
    (
        "Cold Byre Worsted",
        NotedPot(per_100g=False, dry_milligrams=400_000, pieces=4),
        date(2020, 9, 5),
        "Ditch iris, 4 skeins Byre. Violet 0.6 %, a pinch of sky. Acid until 4.5. Left overnight.",
        (
            NotedRow(1, what="Violet", amount="0.6 %"),
            NotedRow(2, what="Sky", amount="a pinch"),
            NotedRow(3, what="Citric acid", amount="until pH 4.5"),
        ),
    ),
)


def write_notes_down(*, owner: User) -> None:
    """Families and snips of all colourways, and two recipes from an old notebook, not named yet."""
    colourways = list(Colourway.objects.order_by("pk"))
    for number, colourway in enumerate(colourways):
        colourway.families = families_of(colourway.chips)
        if number % 3 == 0:
            colourway.snip = f"Grey ring book, page {number // A_PAGE + 1}"
    Colourway.objects.bulk_update(colourways, ["families", "snip"])
    things = Things.now()
    for base, pot, noted_on, words, rows in RECIPES:
        take_in_notes(
            key=uuid.uuid5(NAMESPACE, words),
            recipe=Recipe(
                base=Base.objects.get(name=base),
                pot=pot,
                rows=rows,
                noted_on=noted_on,
                as_written=words,
            ),
            who=owner,
            things=things,
        )


def families_of(chips: list[str]) -> list[str]:
    """The families of a few colours; of three or more different ones it is multicoloured as well."""
    found = dict.fromkeys(_family(chip) for chip in chips)
    return in_order([*found, "many"] if len(found) > 2 else found)


def _family(chip: str) -> str:
    red, green, blue = (int(chip[at : at + 2], 16) / 255 for at in (1, 3, 5))
    hue, light, strong = colorsys.rgb_to_hls(red, green, blue)
    if light > 0.82:
        return "white"
    if light < 0.13:
        return "black"
    if strong < 0.14:
        return "grey"
    degrees = hue * 360
    if 10 <= degrees < 50 and (light < 0.42 or strong < 0.45):
        return "brown"
    return [name for least, name in HUES if degrees >= least][-1]
