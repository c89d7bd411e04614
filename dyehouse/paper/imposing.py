"""Labels onto sheets: each distinct label is drawn once and then placed wherever it is wanted.

The cost follows the distinct labels, not the labels: a hundred skeins of one lot are one drawing. Text stays text.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path

import pikepdf

from dyehouse.paper.sheets import Offset, Sheet, check_offset, points, positions


def impose(
    artwork: bytes,
    order: Sequence[int],
    sheet: Sheet,
    *,
    start_at: int = 1,
    offset: Offset | None = None,
    title: str = "",
) -> bytes:
    """A PDF of whole sheets with page `order[n]` (from 0) of `artwork` on the n-th label from `start_at`.

    Every page of `artwork` has the size of one label; what sticks out of a label is cut at its edge.
    Raises StartOutsideSheet and OffsetTooFar.
    """
    return impose_files([io.BytesIO(artwork)], order, sheet, start_at=start_at, offset=offset, title=title)


def impose_files(
    artwork: Sequence[Path | io.BytesIO],
    order: Sequence[int],
    sheet: Sheet,
    *,
    start_at: int = 1,
    offset: Offset | None = None,
    title: str = "",
) -> bytes:
    """The same from several files of artwork, whose pages are counted on from file to file.

    Raises StartOutsideSheet and OffsetTooFar.
    """
    moved = check_offset(offset or Offset())
    places = positions(sheet, start_at, len(order))
    with ExitStack() as opened, pikepdf.new() as target:
        sources = [opened.enter_context(pikepdf.open(file)) for file in artwork]
        pages = [page for source in sources for page in source.pages]
        drawn = {number: _form(pages[number], target, sheet) for number in sorted(set(order))}
        by_page: dict[int, list[tuple[int, str]]] = {}
        for number, place in zip(order, places, strict=True):
            x = points(place.left_um + moved.x_um)
            # PDF counts from the bottom, sheets from the top.
            y = points(sheet.height_um - place.top_um - moved.y_um - sheet.label_height_um)
            by_page.setdefault(place.page, []).append((number, f"q 1 0 0 1 {x} {y} cm /L{number} Do Q"))
        marks = [cut_marks(sheet, moved)] if sheet.to_cut else []
        for page in sorted(by_page):
            used = {number for number, _ in by_page[page]}
            _add_page(
                target,
                sheet,
                "\n".join([*(line for _, line in by_page[page]), *marks]),
                {f"/L{number}": drawn[number] for number in sorted(used)},
            )
        return _written(target, title)


def outline_page(sheet: Sheet, *, offset: Offset | None = None) -> bytes:
    """One page with the outline of every label and a cross in its middle, to hold against a sheet before wasting one.

    Raises OffsetTooFar.
    """
    moved = check_offset(offset or Offset())
    lines = ["0.4 w 0.1 0.14 0.13 RG"]
    for place in positions(sheet, 1, sheet.labels):
        left, top = place.left_um + moved.x_um, place.top_um + moved.y_um
        bottom = sheet.height_um - top - sheet.label_height_um
        wide, high = sheet.label_width_um, sheet.label_height_um
        lines.append(f"{points(left)} {points(bottom)} {points(wide)} {points(high)} re S")
        middle_x, middle_y = left + wide // 2, bottom + high // 2
        for x, y, to_x, to_y in ((-2_000, 0, 2_000, 0), (0, -2_000, 0, 2_000)):
            lines.append(
                f"{points(middle_x + x)} {points(middle_y + y)} m {points(middle_x + to_x)} {points(middle_y + to_y)} l S"
            )
    with pikepdf.new() as target:
        _add_page(target, sheet, "\n".join(lines), {})
        return _written(target, f"Outlines of {sheet.name}")


def cut_marks(sheet: Sheet, moved: Offset) -> str:
    """Short lines in the margins, on the lines along which the labels are cut apart."""
    lines = ["q 0.4 w 0.1 0.14 0.13 RG"]
    right = sheet.left_um + (sheet.columns - 1) * sheet.pitch_x_um + sheet.label_width_um
    bottom = sheet.top_um + (sheet.rows - 1) * sheet.pitch_y_um + sheet.label_height_um

    def line(x: int, y: int, to_x: int, to_y: int) -> None:
        ends = [(x + moved.x_um, sheet.height_um - y - moved.y_um)]
        ends.append((to_x + moved.x_um, sheet.height_um - to_y - moved.y_um))
        (x1, y1), (x2, y2) = ends
        lines.append(f"{points(x1)} {points(y1)} m {points(x2)} {points(y2)} l S")

    for row in range(sheet.rows):
        for y in (0, sheet.label_height_um):
            at = sheet.top_um + row * sheet.pitch_y_um + y
            line(sheet.left_um - 5_000, at, sheet.left_um - 1_000, at)
            line(right + 1_000, at, right + 5_000, at)
    for column in range(sheet.columns):
        for x in (0, sheet.label_width_um):
            at = sheet.left_um + column * sheet.pitch_x_um + x
            line(at, sheet.top_um - 5_000, at, sheet.top_um - 1_000)
            line(at, bottom + 1_000, at, bottom + 5_000)
    return "\n".join([*lines, "Q"])


def _form(page: pikepdf.Page, target: pikepdf.Pdf, sheet: Sheet) -> pikepdf.Object:
    """One label's drawing as a form of the target file."""
    form = target.copy_foreign(page.as_form_xobject())
    form.BBox = pikepdf.Array([0, 0, *_size(sheet.label_width_um, sheet.label_height_um)])
    # The fonts and pictures of all labels are one object of the source. A form made from a page lists them afresh, which
    # would make the file grow with the square of the labels.
    resources = page.obj.get("/Resources")
    if resources is not None and resources.is_indirect:
        form.Resources = target.copy_foreign(resources)
    return form


def _size(width_um: int, height_um: int) -> tuple[pikepdf.Object, pikepdf.Object]:
    """A width and height in points, as PDF numbers of full precision."""
    return pikepdf.Object.parse(points(width_um).encode()), pikepdf.Object.parse(points(height_um).encode())


def _add_page(target: pikepdf.Pdf, sheet: Sheet, content: str, forms: dict[str, pikepdf.Object]) -> None:
    page = pikepdf.Dictionary(
        Type=pikepdf.Name.Page,
        MediaBox=pikepdf.Array([0, 0, *_size(sheet.width_um, sheet.height_um)]),
        Resources=pikepdf.Dictionary(XObject=pikepdf.Dictionary(forms)),
        Contents=target.make_stream(content.encode("ascii")),
    )
    target.pages.append(pikepdf.Page(target.make_indirect(page)))


def _written(target: pikepdf.Pdf, title: str) -> bytes:
    # A print dialog that obeys this offers actual size first: a sheet scaled to fit misses its labels.
    target.Root.ViewerPreferences = pikepdf.Dictionary(
        PrintScaling=pikepdf.Name("/None"), DisplayDocTitle=True
    )
    target.docinfo["/Title"] = title
    written = io.BytesIO()
    target.save(written, compress_streams=True, deterministic_id=True)
    return written.getvalue()
