"""The sheets of this house: those that are known by their dimensions, those it measured itself, and how far its printer is out."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from dyehouse.paper.models import OwnSheet, PrinterOffset
from dyehouse.paper.sheets import (
    BY_SLUG,
    SHEETS,
    Offset,
    Sheet,
    SheetDoesNotFit,
    SheetUnknown,
    check_offset,
    custom_sheet,
)
from dyehouse.studio.refusals import Refused

OWN = "own-"


class SheetNameTaken(Refused):
    """Two sheets would be called the same."""


def sheets_here() -> dict[str, Sheet]:
    """Every sheet that can be chosen, by its slug; the house's own first. One query."""
    own = {_slug(row): sheet_of(row) for row in OwnSheet.objects.filter(retired_at=None).order_by("name")}
    return own | BY_SLUG


def sheets_for_choice() -> list[tuple[str, str]]:
    """Slug and name of every sheet, for a form. One query."""
    return [(slug, sheet.name) for slug, sheet in sheets_here().items()]


def sheet_here(slug: str) -> Sheet:
    """The sheet that goes by a slug, also one that is no longer offered. Raises SheetUnknown."""
    if slug in BY_SLUG:
        return BY_SLUG[slug]
    number = slug.removeprefix(OWN)
    row = OwnSheet.objects.filter(pk=int(number)).first() if number.isdecimal() and len(number) < 10 else None
    if row is None or not slug.startswith(OWN):
        raise SheetUnknown(f"There is no label sheet called “{slug}”. Choose one from the list.", "sheet")
    return sheet_of(row)


def usual_sheet(slug: str) -> Sheet:
    """The sheet that goes by a slug; the first of the list where it is none."""
    try:
        return sheet_here(slug)
    except SheetUnknown:
        return SHEETS[0]


def sheet_of(row: OwnSheet) -> Sheet:
    """The dimensions that were measured."""
    return custom_sheet(
        slug=_slug(row),
        name=row.name,
        width_um=row.width_um,
        height_um=row.height_um,
        columns=row.columns,
        rows=row.rows,
        label_width_um=row.label_width_um,
        label_height_um=row.label_height_um,
        gap_x_um=row.pitch_x_um - row.label_width_um,
        gap_y_um=row.pitch_y_um - row.label_height_um,
        left_um=row.left_um,
        top_um=row.top_um,
    )


def _slug(row: OwnSheet) -> str:
    return f"{OWN}{row.pk}"


@transaction.atomic
def keep_own_sheet(*, sheet: Sheet, of: OwnSheet | None = None) -> OwnSheet:
    """Write down a sheet that was measured, or measure one again. What was printed keeps the sheet it was printed on.

    Raises SheetNameTaken, and SheetDoesNotFit where its labels are not on the page or overlap.
    """
    name = " ".join(sheet.name.split())
    if not name:
        raise SheetNameTaken("Give the sheet a name, for example what stands on its packet.")
    others = OwnSheet.objects.filter(name__iexact=name)
    if of is not None:
        others = others.exclude(pk=of.pk)
    if others.exists() or any(name.lower() == known.name.lower() for known in SHEETS):
        raise SheetNameTaken(f"There is a sheet called {name} already. Choose another name.")
    if sheet.gap_x_um < 0 or sheet.gap_y_um < 0:
        raise SheetDoesNotFit("The labels overlap: from label to label is at least a label’s own length.", "")
    row = of or OwnSheet()
    row.name = name
    for field in (
        "width_um", "height_um", "left_um", "top_um", "columns", "rows",
        "label_width_um", "label_height_um", "pitch_x_um", "pitch_y_um",
    ):  # fmt: skip
        setattr(row, field, getattr(sheet, field))
    row.retired_at = None
    row.save()
    return row


@transaction.atomic
def retire_own_sheet(*, of: OwnSheet) -> None:
    """Take a sheet out of the list. What was printed on it prints again as it was."""
    of.retired_at = of.retired_at or timezone.now()
    of.save(update_fields=["retired_at"])


def offset_on(sheet: Sheet) -> Offset:
    """How far the printer was out on a sheet, as it was last written down. One query."""
    row = PrinterOffset.objects.filter(sheet=sheet.slug).first()
    return Offset(row.x_um, row.y_um) if row is not None else Offset()


def out_in_words(um: int) -> str | None:
    """How far it is out, in millimetres to a tenth as a form shows it; nothing where it is not."""
    return f"{'-' if um < 0 else ''}{abs(um) // 1000}.{abs(um) % 1000 // 100}" if um else None


@transaction.atomic
def keep_offset(*, sheet: Sheet, offset: Offset) -> None:
    """Remember for a sheet how far the printer is out. Raises OffsetTooFar."""
    check_offset(offset)
    PrinterOffset.objects.update_or_create(
        sheet=sheet.slug, defaults={"x_um": offset.x_um, "y_um": offset.y_um}
    )
