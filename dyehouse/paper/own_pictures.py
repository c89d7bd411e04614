"""The photos that stand on paper: which one shows a lot, and its bytes."""

from __future__ import annotations

from collections.abc import Iterable

from django.core.files.storage import default_storage

from recipes.lots.models import Photo


def photos_of_lots(lots: Iterable[int]) -> dict[int, str]:
    """The newest photo's name in the storage for each dye lot that has one. One query."""
    rows = (
        Photo.objects.filter(dye_lot__in=list(lots))
        .order_by("taken_at", "id")
        .values_list("dye_lot", "thumbnail")
    )
    return dict(rows)


def photos_of_codes(codes: Iterable[str]) -> dict[str, str]:
    """The same by the lots' short codes. One query."""
    rows = (
        Photo.objects.filter(dye_lot__code__in=[code for code in codes if code])
        .order_by("taken_at", "id")
        .values_list("dye_lot__code", "thumbnail")
    )
    return dict(rows)


def photo_bytes(name: str) -> bytes | None:
    """The picture kept under a name; None where it is no longer there."""
    if not name or not default_storage.exists(name):
        return None
    with default_storage.open(name) as file:
        content: bytes = file.read()
    return content
