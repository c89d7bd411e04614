"""Photos at the pot and of lots: kept clean of everything but the picture, and shown only to who may see the colour."""

from __future__ import annotations

from datetime import datetime
from typing import BinaryIO
from uuid import UUID

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.utils import timezone

from dyehouse.studio.images import CleanPhoto, accept_photo
from dyehouse.studio.models import User
from recipes.lots.log import NotLoaded
from recipes.lots.models import DyeLot, LogEntry, Photo, Pot
from recipes.models import WayOfDyeing


def add_photo(
    *,
    key: UUID,
    upload: UploadedFile | BinaryIO | CleanPhoto,
    kind: str,
    who: User,
    pot: Pot | None = None,
    dye_lot: DyeLot | None = None,
    way: WayOfDyeing | None = None,
    taken_at: datetime | None = None,
) -> Photo:
    """Keep a photo of a pot, of a lot, or of the notes that a way is from; one of a pot is also an entry of its log,
    under the same key. `upload` may have been cleaned before.

    Raises PhotoRefused for what is no picture, NotLoaded for a pot that was not loaded. The same key again returns the
    first photo.
    """
    first = Photo.objects.filter(key=key).first()
    if first is not None:
        return first
    if pot is not None and pot.loaded_at is None:
        raise NotLoaded(f"Pot {pot.code} is {pot.state}. Load it first.")
    # Cleaning takes long; it stays outside the transaction so that nobody else waits for it.
    stored = (upload if isinstance(upload, CleanPhoto) else accept_photo(upload)).store()
    arrived = timezone.now()
    at = min(taken_at, arrived) if taken_at is not None else arrived
    with transaction.atomic():
        if pot is not None:
            Pot.objects.select_for_update().get(pk=pot.pk)
        photo, made = Photo.objects.get_or_create(
            key=key,
            defaults={
                "kind": kind,
                "pot": pot,
                "dye_lot": dye_lot,
                "way": way,
                "file": stored.name,
                "thumbnail": stored.thumbnail_name,
                "width": stored.width,
                "height": stored.height,
                "taken_at": at,
                "taken_by": who,
            },
        )
        if made and pot is not None:
            LogEntry.objects.create(
                pot=pot,
                key=key,
                kind=LogEntry.Kind.PHOTO,
                who=who,
                happened_at=at,
                recorded_at=arrived,
                photo=photo,
            )
    return photo


def may_see(photo: Photo, user: User) -> bool:
    """Whether somebody may see a photo: not before the day of a secret colourway, unless they are the owner."""
    if photo.pot is not None:
        return photo.pot.colourway.may_be_seen_by(user)
    if photo.dye_lot is not None:
        return photo.dye_lot.colourway.may_be_seen_by(user)
    if photo.way is not None:
        return photo.way.colourway.may_be_seen_by(user)
    return user.is_owner
