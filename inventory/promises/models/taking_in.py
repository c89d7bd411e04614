"""Sign-ups, orders and sales taken in from files as shops give them out."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.promises.models.clubs import Membership
from inventory.promises.models.orders import Order, OrderLine


class ColumnMap(models.Model):
    """What the columns of one source mean, told once and remembered."""

    class Kind(models.TextChoices):
        SIGN_UPS = "sign_ups", "club sign-ups"
        ORDERS = "orders", "orders"
        SALES = "sales", "sales"

    name = models.CharField(max_length=60, unique=True)
    kind = models.CharField(max_length=10, choices=Kind)
    columns = models.JSONField(default=dict, help_text="Our field to the heading it stands under.")
    words = models.JSONField(
        default=dict,
        help_text="Field to {word in the file: what it means here}, such as a level or a base by id.",
    )
    day_order = models.CharField(
        max_length=3, default="", blank=True, help_text="dmy or mdy, where days are not ISO 8601."
    )
    decimal_mark = models.CharField(max_length=1, default="", blank=True)
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.name


class TakingIn(models.Model):
    """One file: looked through, then taken in or not. The file itself is dropped once it is done."""

    class State(models.TextChoices):
        READING = "reading", "being read"
        LOOKED = "looked", "looked through"
        TAKING = "taking", "being taken in"
        DONE = "done", "taken in"
        FAILED = "failed", "failed"
        DROPPED = "dropped", "not taken in"

    key = models.UUIDField(unique=True)
    column_map = models.ForeignKey(ColumnMap, on_delete=models.PROTECT, related_name="taken")
    file_name = models.CharField(max_length=200, blank=True)
    sha256 = models.CharField(max_length=64)
    contents = models.BinaryField(null=True, blank=True)
    state = models.CharField(max_length=8, choices=State, default=State.READING)
    rows = models.PositiveIntegerField(default=0)
    rows_done = models.PositiveIntegerField(default=0)
    beat_at = models.DateTimeField(null=True, blank=True)
    why = models.CharField(max_length=300, blank=True)
    asked_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "taken in"

    def __str__(self) -> str:
        return self.file_name or str(self.key)


class TakenRow(models.Model):
    """A row that was taken in: by its source, order and place in the order; the newest says what it was last.

    The digest is of the row's own words, so that the same file again changes nothing and nothing personal is kept here.
    """

    column_map = models.ForeignKey(ColumnMap, on_delete=models.PROTECT, related_name="rows")
    taking = models.ForeignKey(TakingIn, on_delete=models.PROTECT, related_name="taken_rows")
    order_number = models.CharField(max_length=60)
    position = models.PositiveIntegerField()
    digest = models.CharField(max_length=64)
    membership = models.ForeignKey(
        Membership, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    order = models.ForeignKey(Order, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    order_line = models.ForeignKey(
        OrderLine, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["column_map", "order_number", "position"], name="taken_row_once"),
            models.CheckConstraint(condition=~Q(order_number=""), name="taken_row_has_number"),
        ]

    def __str__(self) -> str:
        return f"{self.order_number}, {self.position}"
