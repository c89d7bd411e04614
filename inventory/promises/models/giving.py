"""Who gets which skein, as it was worked out: looked at, changed by hand, then held or left."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from dyehouse.ledger.models import Movement
from inventory.promises.models.clubs import Round
from inventory.promises.models.orders import Product


class WorkedOut(models.Model):
    """One answer for a round or a product. Changed by hand it is another answer; held, it stays as it was held."""

    key = models.UUIDField(unique=True)
    round = models.ForeignKey(
        Round, on_delete=models.PROTECT, null=True, blank=True, related_name="worked_out"
    )
    product = models.ForeignKey(
        Product, on_delete=models.PROTECT, null=True, blank=True, related_name="worked_out"
    )
    pieces = models.JSONField(help_text="Box code, slot, lot and pieces; nothing personal.")
    standing = models.TextField(help_text="Whether it is as good as can be, in words.")
    terms = models.JSONField(default=list, help_text="How each aim came out, in words.")
    told = models.JSONField(
        default=dict,
        help_text="By box code: why it gets these lots, or what stands in the way. Names nobody.",
    )
    pots = models.TextField(blank=True, help_text="The fewest pots whose dyeing would fill all, in words.")
    luck = models.JSONField(default=dict, help_text="By person's code: what to bring next time.")
    made_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    movement = models.OneToOneField(
        Movement, on_delete=models.PROTECT, null=True, blank=True, related_name="worked_out"
    )
    settled = models.JSONField(default=list, help_text="Parts of boxes whose colourway this settled, by id.")
    taken_back_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "worked out"
        constraints = [
            models.CheckConstraint(
                condition=Q(round__isnull=False, product__isnull=True)
                | Q(round__isnull=True, product__isnull=False),
                name="worked_out_is_of_one_thing",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.round_id or self.product_id}, {self.made_at:%Y-%m-%d}"
