"""Parcels: all that goes to one person at once, packed piece by piece or in one touch, and on its way."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from dyehouse.ledger.models import Item, Lot
from inventory.promises.models.boxes import Box
from inventory.promises.models.people import Person


class PickBatch(models.Model):
    """Parcels that are picked and packed together, in one walk along the shelf."""

    code = models.CharField(max_length=12, unique=True)
    made_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "pick batches"

    def __str__(self) -> str:
        return self.code


class Parcel(models.Model):
    """What leaves for one person. How it stands now; its events say how it came to be."""

    class State(models.TextChoices):
        OPEN = "open", "to pack"
        PACKED = "packed", "packed"
        GONE = "gone", "on its way"
        UNDONE = "undone", "taken apart"

    code = models.CharField(max_length=12, unique=True)
    receiver = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="parcels")
    batch = models.ForeignKey(
        PickBatch, on_delete=models.PROTECT, null=True, blank=True, related_name="parcels"
    )
    state = models.CharField(max_length=8, choices=State, default=State.OPEN)
    made_at = models.DateTimeField()
    packed_at = models.DateTimeField(null=True, blank=True)
    gone_at = models.DateTimeField(null=True, blank=True)
    packaging_grams = models.PositiveIntegerField(null=True, blank=True, help_text="Box, paper and extras.")
    weighed_grams = models.PositiveIntegerField(null=True, blank=True)
    carrier = models.CharField(max_length=60, blank=True)
    tracking = models.CharField(max_length=80, blank=True)

    def __str__(self) -> str:
        return self.code


class ParcelBox(models.Model):
    """A box that is in a parcel. A box is in one parcel that was not taken apart."""

    parcel = models.ForeignKey(Parcel, on_delete=models.PROTECT, related_name="boxes")
    box = models.ForeignKey(Box, on_delete=models.PROTECT, related_name="parcel_boxes")
    taken_out_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "parcel boxes"
        constraints = [
            models.UniqueConstraint(
                fields=["box"], condition=Q(taken_out_at__isnull=True), name="box_in_one_parcel"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.box_id} in {self.parcel_id}"


class PackedPieces(models.Model):
    """Pieces of a lot that lie in a parcel, checked by their code or taken as read with the whole parcel."""

    parcel = models.ForeignKey(Parcel, on_delete=models.CASCADE, related_name="packed")
    box = models.ForeignKey(Box, on_delete=models.PROTECT, related_name="+")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="+")
    pieces = models.PositiveIntegerField()
    checked = models.BooleanField(help_text="Each by its code.")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "packed pieces"
        constraints = [
            models.UniqueConstraint(fields=["parcel", "box", "item", "lot"], name="packed_once"),
            models.CheckConstraint(condition=Q(pieces__gte=1), name="packed_some"),
        ]

    def __str__(self) -> str:
        return f"{self.pieces} in {self.parcel_id}"


class ParcelEvent(models.Model):
    """What happened to a parcel. Only ever added."""

    class Kind(models.TextChoices):
        PIECE = "piece", "a piece put in"
        PACKED = "packed", "packed"
        UNPACKED = "unpacked", "unpacked"
        GONE = "gone", "on its way"
        TRACKED = "tracked", "tracking number"
        LOST = "lost", "lost or damaged"
        BACK = "back", "came back"

    key = models.UUIDField(unique=True)
    parcel = models.ForeignKey(Parcel, on_delete=models.PROTECT, related_name="events")
    kind = models.CharField(max_length=10, choices=Kind)
    words = models.CharField(max_length=200, blank=True, help_text="Names nobody.")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"{self.kind}, {self.at:%Y-%m-%d}"
