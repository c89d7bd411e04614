"""Labels onto sheets: each distinct label is drawn once and then placed wherever it is wanted.

The cost follows the distinct labels, not the labels: a hundred skeins of one lot are one drawing. Text stays text.
"""

from __future__ import annotations

import io
from collections.abc import Sequence

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
    moved = check_offset(offset or Offset())
    places = positions(sheet, start_at, len(order))
    with pikepdf.open(io.BytesIO(artwork)) as source, pikepdf.new() as target:
        drawn = {number: _form(source.pages[number], target, sheet) for number in sorted(set(order))}
        by_page: dict[int, list[tuple[int, str]]] = {}
        for number, place in zip(order, places, strict=True):
            x = points(place.left_um + moved.x_um)
            # PDF counts from the bottom, sheets from the top.
            y = points(sheet.height_um - place.top_um - moved.y_um - sheet.label_height_um)
            by_page.setdefault(place.page, []).append((number, f"q 1 0 0 1 {x} {y} cm /L{number} Do Q"))
        for page in sorted(by_page):
            used = {number for number, _ in by_page[page]}
            _add_page(
                target,
                sheet,
                "\n".join(line for _, line in by_page[page]),
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
