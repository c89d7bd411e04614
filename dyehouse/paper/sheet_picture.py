"""A little picture of a label sheet, on which the first label is picked by touch."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from dyehouse.paper.sheets import Sheet, pages_needed, positions


@dataclass(frozen=True, slots=True)
class Filling:
    """Where so many labels from one on come to lie, in words for the page."""

    first: int
    last: int
    sheets: int

    @property
    def words(self) -> str:
        """Labels 6 to 9; over several sheets: from label 6, on 3 sheets."""
        if self.sheets > 1:
            return f"From label {self.first}, on {self.sheets} sheets"
        return f"Label {self.first}" if self.last == self.first else f"Labels {self.first} to {self.last}"


def filling(sheet: Sheet, *, start_at: int, count: int) -> Filling | None:
    """What so many labels fill from `start_at`; None for no label, or a first one that is not on the sheet."""
    if count < 1 or not 1 <= start_at <= sheet.labels:
        return None
    return Filling(start_at, start_at + count - 1, pages_needed(sheet, start_at, count))


def sheet_picture(sheet: Sheet, *, start_at: int, count: int) -> SafeString:
    """The sheet in millimetres as SVG, the labels that would be printed on its first page marked. Empty for a roll.

    For eyes and fingers only: the number beside it says and does the same.
    """
    if sheet.is_roll:
        return SafeString("")
    labels = format_html_join(
        "",
        '<g data-label="{}"{}><rect x="{}" y="{}" width="{}" height="{}" rx="1.5"/><text x="{}" y="{}">{}</text></g>',
        (
            (
                number,
                SafeString(" data-used") if start_at <= number < start_at + count else "",
                _mm(place.left_um),
                _mm(place.top_um),
                _mm(sheet.label_width_um),
                _mm(sheet.label_height_um),
                _mm(place.left_um + sheet.label_width_um // 2),
                _mm(place.top_um + sheet.label_height_um // 2),
                number,
            )
            for number, place in enumerate(positions(sheet, 1, sheet.labels), start=1)
        ),
    )
    return format_html(
        '<svg class="sheet-picture" viewBox="0 0 {} {}" data-sheet="{}" aria-hidden="true">{}</svg>',
        _mm(sheet.width_um),
        _mm(sheet.height_um),
        sheet.labels,
        labels,
    )


def _mm(um: int) -> str:
    """Micrometres as plain millimetres, in any language's number format."""
    return f"{um // 1000}.{um % 1000:03d}"
