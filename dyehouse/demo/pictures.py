"""Swatch pictures for the invented colourways, drawn once each and shown by all lots that match."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from dyehouse.demo.book import demo_key, write_rows
from dyehouse.demo.telling import Told
from dyehouse.studio.images import StoredPhoto
from dyehouse.studio.models import User
from dyehouse.studio.swatches import skein_photo
from recipes.lots.models import Photo


def picture_colourways(*, pots: Sequence[Told], references: Mapping[tuple[str, int], Told], by: User) -> None:
    """A picture in daylight for every reference lot, and for the newest dozen lots of each colourway."""
    drawn: dict[str, StoredPhoto] = {}
    shown: dict[str, Told] = {pot.row.code: pot for pot in references.values()}
    shown |= {pot.row.code: pot for pot in pots[-90:-8]}
    photos = []
    for pot in shown.values():
        colourway = pot.plan.colourway
        if colourway.name not in drawn:
            picture = skein_photo(
                colourway.chips, kind=colourway.kind, seed=colourway.name, width=720, height=540
            )
            drawn[colourway.name] = picture.store(demo_key("photo", colourway.name).hex)
        stored = drawn[colourway.name]
        photos.append(
            Photo(
                key=demo_key("photo", pot.row.code),
                kind=Photo.Kind.DAYLIGHT,
                pot=pot.row,
                dye_lot=pot.lot,
                file=stored.name,
                thumbnail=stored.thumbnail_name,
                width=stored.width,
                height=stored.height,
                taken_at=pot.lot.made_at,
                taken_by=by,
            )
        )
    write_rows(photos)
