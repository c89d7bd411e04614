"""What people have said about yarn on the shelf: whom it is put aside for."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from dyehouse.ledger.models import Claim
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn


class HandHold(models.Model):
    """Pieces put aside by hand for somebody until a day. The ledger's claim holds them; this says for whom and how long.

    It is never let go by itself: on its day somebody is asked.
    """

    claim = models.OneToOneField(Claim, on_delete=models.PROTECT, related_name="hand_hold")
    dyed = models.ForeignKey(DyedYarn, on_delete=models.PROTECT, related_name="hand_holds")
    dye_lot = models.ForeignKey(DyeLot, on_delete=models.PROTECT, related_name="hand_holds")
    for_whom = models.CharField(max_length=120)
    until = models.DateField()
    note = models.CharField(max_length=300, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    ended_how = models.CharField(max_length=300, blank=True)

    class Meta:
        indexes = [models.Index(fields=["until"], condition=Q(ended_at__isnull=True), name="hold_open_until")]
        constraints = [
            models.CheckConstraint(condition=~Q(for_whom=""), name="hold_is_for_somebody"),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | ~Q(ended_how=""), name="hold_ended_says_how"
            ),
        ]

    def __str__(self) -> str:
        return f"held for {self.for_whom}"
