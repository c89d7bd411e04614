"""Boxes of days laid out: which boxes a day is in."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from inventory.promises.models.orders import Offer


class LaidDay(models.Model):
    """The boxes (by their number) that a day is in, as somebody said it. Only ever added; the newest of a day holds."""

    offer = models.ForeignKey(Offer, on_delete=models.PROTECT, related_name="laid_days")
    day = models.PositiveSmallIntegerField()
    inside = models.JSONField(help_text="Numbers of boxes, in order.")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["offer", "day", "-id"], name="laid_day_newest")]

    def __str__(self) -> str:
        return f"day {self.day} of {self.offer_id}"
