"""The colour book on paper: a list of what is in it by family, then a page a colourway with a place for its snip."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from django.utils import timezone

from dyehouse.paper.book_contents import BookBase, BookContents, BookPage
from dyehouse.paper.codes import make_qr
from dyehouse.paper.fitting import unprintable
from dyehouse.paper.html_to_pdf import PaperUnavailable, laid_out, pdf_bytes
from dyehouse.paper.lists import paper_of
from dyehouse.studio.lay_drawing import parts_of, strip_svg
from dyehouse.studio.models import Studio
from recipes.dyeing.families import family_names
from recipes.dyeing.units import (
    format_celsius,
    format_grams,
    format_litres,
    format_minutes,
    format_ratio,
)
from recipes.dyeing.working import exact
from recipes.lots.untried import FROM_NOTES
from recipes.models import Rule

if TYPE_CHECKING:
    from weasyprint import Document


def colour_book_pdf(contents: BookContents, *, studio: Studio) -> bytes:
    """The book as a PDF. Raises PaperUnavailable, also for letters that the fonts lack."""
    us = studio.units == Studio.Units.US
    pictures = {f"code-{page.code}": make_qr(page.code, error="Q", dots=7).png for page in contents.pages}
    pages = []
    for page in contents.pages:
        picture = page.picture()
        if picture is not None:
            pictures[f"photo-{page.code}"] = picture
        pages.append(_page(page, has_photo=picture is not None, us=us))
    context: dict[str, Any] = {
        "studio": studio.name,
        "date": _day(timezone.localdate()),
        "paper": paper_of(studio),
        "pages": pages,
        "count": len(pages),
        "left_out": contents.left_out,
        "before": 0,
    }
    unknown = unprintable("".join(_texts(contents, studio)))
    if unknown:
        raise PaperUnavailable(unknown)
    if len(pages) == 1:
        return pdf_bytes(_laid_out("book_pages", context, pictures))
    # The list of contents is laid out by itself and first for its length: asking the layout for page numbers would lay
    # the whole book out three times.
    front = _laid_out("book_front", {**context, "families": _families(contents, {})})
    book = _laid_out("book_pages", {**context, "before": len(front.pages)}, pictures)
    numbers = {
        anchor: number
        for number, page in enumerate(book.pages, len(front.pages) + 1)
        for anchor in page.anchors
    }
    front = _laid_out("book_front", {**context, "families": _families(contents, numbers)})
    return pdf_bytes(book.copy([*front.pages, *book.pages]))


def _laid_out(
    template: str, context: Mapping[str, Any], pictures: Mapping[str, bytes] | None = None
) -> Document:
    return laid_out(f"paper/{template}.html", context, stylesheet="book_pages.css", pictures=pictures)


def _families(
    contents: BookContents, numbers: Mapping[str, int]
) -> list[tuple[str, list[tuple[BookPage, Any]]]]:
    """The entries of the list of contents under their families, each with the number of its page once that is known."""
    return [
        (name, [(page, numbers.get(f"c{page.code}", "00")) for page in those])
        for name, those in contents.by_family.items()
    ]


def _texts(contents: BookContents, studio: Studio) -> list[str]:
    """Every text that people wrote, for a look at what the fonts lack."""
    found = [studio.name]
    for page in contents.pages:
        found += [page.name, page.colourway.snip]
        for on in page.bases:
            found.append(on.base.name)
            found += [f"{line.name}{line.by_rule}{line.for_100_g}" for line in on.lines]
            if on.way is not None:
                found += [on.way.lay, on.way.cooling, on.way.vessel_name, on.lay.words if on.lay else ""]
    return found


def _page(page: BookPage, *, has_photo: bool, us: bool) -> dict[str, Any]:
    return {
        "page": page,
        "families": ", ".join(family_names(page.families)).capitalize(),
        "has_photo": has_photo,
        "secret_until": _day(page.secret_until) if page.secret_until is not None else "",
        "bases": [_base(on, us=us) for on in page.bases],
        "several": len(page.bases) > 1,
    }


def _base(on: BookBase, *, us: bool) -> dict[str, Any]:
    return {
        "on": on,
        "reference": _reference(on, us=us),
        "way": _way(on),
        "rows": [
            {
                "at": "–" if line.rule.minute is None else format_minutes(line.rule.minute),
                "what": line.name,
                "by_rule": line.by_rule,
                "for_100_g": line.for_100_g,
                "reading": line.rule.kind not in (Rule.Kind.DYE, Rule.Kind.AUXILIARY, Rule.Kind.WATER),
            }
            for line in on.lines
        ],
        "facts": _facts(on, us=us),
        "temperatures": _temperatures(on, us=us),
        "strip": strip_svg(parts_of(on.lay), folded=on.lay.folded) if on.lay is not None else "",
        "lacks": ", ".join(lack.name if not at else lack.name.lower() for at, lack in enumerate(on.lacks)),
    }


def _reference(on: BookBase, *, us: bool) -> str:
    """The lot to repeat in a line: its code, day, who dyed it, and what lay in the pot."""
    if on.reference is None:
        return "No lot is the one to repeat yet."
    words = f"Lot {on.reference.code}, {_day(timezone.localdate(on.reference.made_at))}"
    if on.load is None:
        return f"{words}, from before the house."
    words += f", dyed by {on.load.pot.started_by}: {on.pieces} {'piece' if on.pieces == 1 else 'pieces'}"
    words += f", {format_grams(on.dry_milligrams, us=us)} dry"
    return f"{words}, in {on.load.pot.vessel}." if on.load.pot.vessel is not None else f"{words}."


def _way(on: BookBase) -> str:
    if on.way is None:
        return "There is no way of dyeing it by the numbers yet."
    words = f"Way {on.way.number}, kept {_day(timezone.localdate(on.way.made_at))} by {on.way.made_by}"
    return f"{words}, {FROM_NOTES}." if on.is_untried else f"{words}."


def _facts(on: BookBase, *, us: bool) -> list[tuple[str, str]]:
    way = on.way
    if way is None:
        return []
    found = []
    if way.bath_microlitres and way.dry_milligrams:
        ratio = format_ratio(exact(way.bath_microlitres) / way.dry_milligrams)
        litres, grams = format_litres(way.bath_microlitres, us=us), format_grams(way.dry_milligrams, us=us)
        found.append(("Bath", f"{ratio}: {litres} on {grams}"))
    if way.vessel_name:
        found.append(("Vessel", way.vessel_name))
    if way.presoak_minutes is not None:
        found.append(("Pre-soak", f"{way.presoak_minutes} min"))
    if way.lay:
        found.append(("How it lies", way.lay))
    if on.lay is not None:
        found.append(("Along the hank", on.lay.words))
    if way.cleared:
        found.append(("Bath at the end", way.get_cleared_display()))
    if way.cooling:
        found.append(("Cooling", way.cooling))
    return found


def _temperatures(on: BookBase, *, us: bool) -> str:
    """The temperatures of the way in their order: 40 °C at 5 min, 82 °C at 45 min."""
    words = []
    for line in on.lines:
        rule = line.rule
        if rule.kind == Rule.Kind.TEMPERATURE and rule.centi_celsius is not None:
            heat = format_celsius(rule.centi_celsius, us=us)
            words.append(heat if rule.minute is None else f"{heat} at {format_minutes(rule.minute)}")
    return ", ".join(words)


def _day(on: Any) -> str:
    return f"{on.day} {on:%B %Y}"
