"""Boxes: what one person is to get at once, and the very pieces that are held for it."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from dyehouse.ledger.models import Claim, Movement
from inventory.promises.models.clubs import Membership, Round
from inventory.promises.models.orders import Order, OrderLine, Product
from inventory.promises.models.people import Person
from recipes.lots.models import DyeLot
from recipes.models import Colourway, PutUp


class Box(models.Model):
    """One thing promised to one person: a member's box of a round, one piece of an order line, or a replacement.

    Its claim holds the pieces in the ledger; the claim's words are the box's code and what it is of, never a name.
    """

    code = models.CharField(max_length=12, unique=True)
    round = models.ForeignKey(Round, on_delete=models.PROTECT, null=True, blank=True, related_name="boxes")
    membership = models.ForeignKey(
        Membership, on_delete=models.PROTECT, null=True, blank=True, related_name="boxes"
    )
    order_line = models.ForeignKey(
        OrderLine, on_delete=models.PROTECT, null=True, blank=True, related_name="boxes"
    )
    replaces = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )
    number = models.PositiveSmallIntegerField(
        default=1, help_text="Which of several alike: doubles are 1 and 2."
    )
    receiver = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="boxes")
    claim = models.OneToOneField(Claim, on_delete=models.PROTECT, related_name="box")
    same_pot = models.BooleanField(
        null=True, blank=True, help_text="Its pieces of one colourway from one pot."
    )
    late = models.BooleanField(default=False, help_text="Joined after the round was frozen.")
    made_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "boxes"
        constraints = [
            models.UniqueConstraint(
                fields=["round", "membership", "number"],
                condition=Q(round__isnull=False),
                name="box_of_round_once",
            ),
            models.UniqueConstraint(
                fields=["order_line", "number"],
                condition=Q(order_line__isnull=False),
                name="box_of_line_once",
            ),
            models.CheckConstraint(
                condition=Q(
                    round__isnull=False,
                    membership__isnull=False,
                    order_line__isnull=True,
                    replaces__isnull=True,
                )
                | Q(
                    round__isnull=True,
                    membership__isnull=True,
                    order_line__isnull=False,
                    replaces__isnull=True,
                )
                | Q(
                    round__isnull=True,
                    membership__isnull=True,
                    order_line__isnull=True,
                    replaces__isnull=False,
                ),
                name="box_is_of_one_thing",
            ),
        ]

    def __str__(self) -> str:
        return self.code


class BoxPart(models.Model):
    """What a box wants, place by place. The colourway is empty until it is settled who gets which."""

    box = models.ForeignKey(Box, on_delete=models.CASCADE, related_name="parts")
    position = models.PositiveSmallIntegerField(help_text="In an advent box, its day.")
    put_up = models.ForeignKey(PutUp, on_delete=models.PROTECT, related_name="+")
    colourway = models.ForeignKey(
        Colourway, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    pieces = models.PositiveSmallIntegerField(default=1)

    class Meta:
        indexes = [models.Index(fields=["put_up", "colourway"], name="box_part_of")]
        constraints = [
            models.UniqueConstraint(fields=["box", "position"], name="box_part_position_once"),
            models.CheckConstraint(condition=Q(pieces__gte=1), name="box_part_has_pieces"),
        ]

    def __str__(self) -> str:
        return f"{self.position} of {self.box_id}"


class Payment(models.Model):
    """Whether something was paid: no payment is taken here. Only ever added; the newest holds."""

    class Kind(models.TextChoices):
        DUE = "due", "not paid yet"
        DEPOSIT = "deposit", "deposit paid"
        PAID = "paid", "paid"
        FAILED = "failed", "failed"
        REFUNDED = "refunded", "given back"

    box = models.ForeignKey(Box, on_delete=models.PROTECT, null=True, blank=True, related_name="payments")
    order = models.ForeignKey(Order, on_delete=models.PROTECT, null=True, blank=True, related_name="payments")
    kind = models.CharField(max_length=10, choices=Kind)
    amount_minor = models.PositiveIntegerField(null=True, blank=True)
    why = models.CharField(max_length=300, blank=True, help_text="Names nobody.")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(box__isnull=False, order__isnull=True) | Q(box__isnull=True, order__isnull=False),
                name="payment_is_of_one_thing",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind}, {self.at:%Y-%m-%d}"


class WhyHeld(models.Model):
    """Why a box got pieces of this lot, as it was worked out when the answer was accepted. Only ever added."""

    box = models.ForeignKey(Box, on_delete=models.PROTECT, related_name="reasons")
    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField()
    dye_lot = models.ForeignKey(DyeLot, on_delete=models.PROTECT, related_name="+")
    pieces = models.PositiveSmallIntegerField()
    words = models.CharField(max_length=300, help_text="Names nobody.")

    class Meta:
        verbose_name_plural = "reasons"

    def __str__(self) -> str:
        return self.words


class Pin(models.Model):
    """A box must get of this lot, or must not. Changed freely until the answer is accepted."""

    box = models.ForeignKey(Box, on_delete=models.CASCADE, related_name="pins")
    dye_lot = models.ForeignKey(DyeLot, on_delete=models.PROTECT, related_name="+")
    must = models.BooleanField(help_text="False forbids it.")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["box", "dye_lot"], name="pin_once")]

    def __str__(self) -> str:
        return f"{'must' if self.must else 'must not'} {self.dye_lot_id}"


class Spares(models.Model):
    """What is put by of a round or a product for parcels that go wrong: seen, and not for sale before its day."""

    round = models.ForeignKey(Round, on_delete=models.PROTECT, null=True, blank=True, related_name="spares")
    product = models.ForeignKey(
        Product, on_delete=models.PROTECT, null=True, blank=True, related_name="spares"
    )
    claim = models.OneToOneField(Claim, on_delete=models.PROTECT, related_name="spares")
    until = models.DateField(null=True, blank=True)
    made_at = models.DateTimeField()
    released_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "spares"
        constraints = [
            models.CheckConstraint(
                condition=Q(round__isnull=False, product__isnull=True)
                | Q(round__isnull=True, product__isnull=False),
                name="spares_are_of_one_thing",
            ),
        ]

    def __str__(self) -> str:
        return f"spares of {self.round_id or self.product_id}"
