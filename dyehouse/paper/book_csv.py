"""The colour book as a list: a row for each step of each way, numbers plain, nothing that a spreadsheet would run."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from django.utils import timezone

from dyehouse.paper.book_contents import BookBase, BookContents, BookPage
from dyehouse.studio.cells import list_of
from recipes.dyeing.families import family_names
from recipes.dyeing.scaling import Basis, Unit
from recipes.dyeing.units import format_number
from recipes.dyeing.working import DyeingError
from recipes.models import Rule
from recipes.way_words import rule_name, rule_words
from recipes.ways import PotSize, amount_in

COLUMNS = (
    ("code", "of the colourway"),
    ("colourway", "its name, else its code"),
    ("secret until", "the day, while it is still to come"),
    ("families", "with a semicolon between them"),
    ("snip", "where the snip is"),
    ("base", "the undyed yarn line"),
    ("fibres", "in percent"),
    ("lot to repeat", "its code"),
    ("dyed on", "year, month and day"),
    ("dyed by", ""),
    ("way", "its number; empty where there is none yet"),
    ("from notes", "yes: not yet dyed here"),
    ("written on", "the day of the notes"),
    ("pot dry grams", "of the pot that the way is from"),
    ("pot litres", ""),
    ("pot pieces", ""),
    ("pre-soak minutes", ""),
    ("vessel", ""),
    ("lay", ""),
    ("sections", "along the hank"),
    ("cooling", ""),
    ("step", "its number"),
    ("minute", "from the start"),
    ("what", "dye, auxiliary, water, temperature, pH, heat, technique or note"),
    ("name", "of the dye or auxiliary"),
    ("goes with", "fibre, bath, piece, pot or reading"),
    ("amount", "a plain number, by what it goes with"),
    ("unit", "g or ml: on 100 g of fibre, per litre, per piece or per pot"),
    ("stock percent", "what it is dosed from"),
    ("for 100 g", "g or ml for 100 g of this yarn"),
    ("celsius", ""),
    ("pH", ""),
    ("words", "a kitchen measure, a note, or the step in words"),
)
_PER = {
    Basis.FIBRE: "on 100 g",
    Basis.READING: "on 100 g",
    Basis.BATH: "per litre",
    Basis.PIECE: "per piece",
    Basis.POT: "per pot",
}
HUNDRED_GRAMS = 100_000


def colour_book_csv(contents: BookContents) -> str:
    """The list as text."""
    rows = [[name for name, _ in COLUMNS]]
    for page in contents.pages:
        for on in page.bases:
            whole = _whole(page, on)
            steps = [_step(rule, on) for rule in (line.rule for line in on.lines)] or [{}]
            for number, row in enumerate(steps, 1):
                cells: dict[str, Any] = {**whole, **row, **({"step": number} if row else {})}
                rows.append([cells.get(name, "") for name, _ in COLUMNS])
    return list_of(rows)


def _whole(page: BookPage, on: BookBase) -> dict[str, Any]:
    way, lot = on.way, on.reference
    found: dict[str, Any] = {
        "code": page.code,
        "colourway": page.name,
        "secret until": page.secret_until,
        "families": "; ".join(family_names(page.families)),
        "snip": page.colourway.snip,
        "base": on.base.name,
        "fibres": ", ".join(f"{format_number(Fraction(share, 10), 1)} % {slug}" for slug, share in on.fibres),
    }
    if lot is not None:
        found |= {"lot to repeat": lot.code, "dyed on": timezone.localdate(lot.made_at)}
        found["dyed by"] = on.load.pot.started_by if on.load is not None else ""
    if way is not None:
        found |= {
            "way": way.number,
            "from notes": "yes" if on.is_untried else "",
            "written on": way.noted_on,
            "pot dry grams": _number(way.dry_milligrams, 1_000),
            "pot litres": _number(way.bath_microlitres, 1_000_000),
            "pot pieces": way.pieces,
            "pre-soak minutes": way.presoak_minutes,
            "vessel": way.vessel_name,
            "lay": way.lay,
            "sections": on.lay.words if on.lay is not None else "",
            "cooling": way.cooling,
        }
    return found


def _step(rule: Any, on: BookBase) -> dict[str, Any]:
    found: dict[str, Any] = {
        "minute": rule.minute,
        "what": Rule.Kind(rule.kind).label,
        "celsius": _number(rule.centi_celsius, 100),
        "pH": _number(rule.ph_hundredths, 100),
    }
    if not (rule.dye or rule.auxiliary or rule.kind == Rule.Kind.WATER):
        return {**found, "words": rule_words(rule)}
    found["name"] = rule_name(rule) if rule.dye or rule.auxiliary else ""
    found["goes with"] = rule.basis
    found["words"] = rule.as_typed if rule.thousandths is None else rule.text
    if rule.strength_mg_per_litre:
        found["stock percent"] = _number(rule.strength_mg_per_litre, 10_000)
    if rule.thousandths is None:
        return found
    by_fibre = rule.basis in (Basis.FIBRE, Basis.READING)
    # By the fibre a rate is kept for a kilogram; people weigh for 100 g.
    found["amount"] = _number(rule.thousandths, 10_000_000 if by_fibre else 1_000_000)
    found["unit"] = f"{'g' if rule.unit == Unit.MG else 'ml'} {_PER[Basis(rule.basis)]}"
    size = PotSize(on.way.dry_milligrams, on.way.bath_microlitres, on.way.pieces) if on.way else PotSize()
    try:
        figure = amount_in(rule, size.weighing(HUNDRED_GRAMS))
    except DyeingError:
        figure = None
    if figure is not None:
        found["for 100 g"] = format_number(figure.value / 1000, 6)
    return found


def _number(amount: int | None, size: int) -> str:
    """A plain number with a point, to the millionth."""
    return "" if amount is None else format_number(Fraction(amount, size), 6)
