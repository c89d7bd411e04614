"""Orders: pre-orders of a product, custom work, and what a yarn shop orders at wholesale."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.models import Kit
from inventory.promises.models.people import Person
from recipes.lots.models import DyeLot
from recipes.models import Colourway, PutUp


class Product(models.Model):
    """What is sold before it is dyed: an advent box, a kit, a colourway dyed to order."""

    class Kind(models.TextChoices):
        PREORDER = "preorder", "pre-order"
        TO_ORDER = "to_order", "dyed to order"

    name = models.CharField(max_length=120, unique=True)
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.PREORDER)
    most = models.PositiveIntegerField(
        null=True, blank=True, help_text="How many are sold at most, all choices together."
    )
    deposit_minor = models.PositiveIntegerField(null=True, blank=True)
    balance_due = models.DateField(null=True, blank=True)
    opens_on = models.DateField(null=True, blank=True)
    closes_on = models.DateField(null=True, blank=True)
    ships_on = models.DateField(null=True, blank=True)
    weeks_promised = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="From the order, where no day is fixed."
    )
    secret_until = models.DateTimeField(null=True, blank=True)
    names_on_sealed_paper = models.BooleanField(default=False)
    insert_words = models.TextField(blank=True)
    spares_percent = models.PositiveSmallIntegerField(default=5)
    spares_until = models.DateField(null=True, blank=True)
    made_at = models.DateTimeField()
    retired_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name


class Offer(models.Model):
    """One choice of a product: a kit on a base, or pieces of one colourway on a put-up."""

    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="offers")
    name = models.CharField(
        max_length=60, blank=True, help_text="The base, where a product comes on several."
    )
    kit = models.ForeignKey(Kit, on_delete=models.PROTECT, null=True, blank=True, related_name="offers")
    colourway = models.ForeignKey(
        Colourway, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    put_up = models.ForeignKey(PutUp, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    price_minor = models.PositiveIntegerField(null=True, blank=True)
    most = models.PositiveIntegerField(null=True, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["product", "name"], name="offer_name_once"),
            models.CheckConstraint(
                condition=Q(kit__isnull=False, colourway__isnull=True, put_up__isnull=True)
                | Q(kit__isnull=True, colourway__isnull=False, put_up__isnull=False),
                name="offer_is_a_kit_or_a_colourway",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.product}, {self.name}" if self.name else str(self.product)


class ShopTerms(models.Model):
    """On what terms a yarn shop buys."""

    shop = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="terms")
    least_pieces = models.PositiveIntegerField(null=True, blank=True)
    least_minor = models.PositiveIntegerField(null=True, blank=True)
    least_a_colourway = models.PositiveIntegerField(
        null=True, blank=True, help_text="Pieces of one colourway on one base."
    )
    deposit_percent = models.PositiveSmallIntegerField(default=0)
    discount_percent = models.PositiveSmallIntegerField(default=50, help_text="Off the retail price.")
    exclusive = models.CharField(max_length=300, blank=True, help_text="What no other shop gets.")

    class Meta:
        verbose_name_plural = "shop terms"

    def __str__(self) -> str:
        return f"terms of {self.shop_id}"


class Order(models.Model):
    """An order, by whatever way it came. How it stands is read from its changes, payments and boxes."""

    class Kind(models.TextChoices):
        PREORDER = "preorder", "pre-order"
        CUSTOM = "custom", "custom or dyed to order"
        WHOLESALE = "wholesale", "wholesale"
        SALE = "sale", "sale"

    kind = models.CharField(max_length=10, choices=Kind)
    number = models.CharField(max_length=60)
    source = models.CharField(
        max_length=60, blank=True, help_text="The file mapping it came by; empty where typed."
    )
    buyer = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="orders")
    receiver = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="receives_orders")
    placed_at = models.DateTimeField()
    due = models.DateField(null=True, blank=True)
    gift_note = models.CharField(max_length=500, blank=True)
    note = models.CharField(max_length=500, blank=True)
    currency = models.CharField(max_length=3)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["source", "number"], name="order_number_once")]

    def __str__(self) -> str:
        return self.number


class OrderLine(models.Model):
    """So many of one thing in an order."""

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="lines")
    position = models.PositiveIntegerField()
    offer = models.ForeignKey(Offer, on_delete=models.PROTECT, null=True, blank=True, related_name="lines")
    colourway = models.ForeignKey(
        Colourway, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    put_up = models.ForeignKey(PutUp, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    count = models.PositiveIntegerField()
    each_minor = models.PositiveIntegerField(null=True, blank=True)
    reference_lot = models.ForeignKey(
        DyeLot,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="It must match this one.",
    )
    words = models.CharField(max_length=300, blank=True, help_text="What a custom order asks for.")
    cancelled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["order", "position"], name="order_line_position_once"),
            models.CheckConstraint(condition=Q(count__gte=1), name="order_line_has_count"),
            models.CheckConstraint(
                condition=Q(offer__isnull=False, colourway__isnull=True, put_up__isnull=True)
                | Q(offer__isnull=True, put_up__isnull=False),
                name="order_line_is_of_something",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.position} of {self.order_id}"


class OrderChange(models.Model):
    """How an order went on. Only ever added; the newest state holds."""

    class Kind(models.TextChoices):
        QUOTED = "quoted", "quoted"
        AGREED = "agreed", "agreed"
        DYEING = "dyeing", "dyeing"
        READY = "ready", "ready"
        CANCELLED = "cancelled", "cancelled"
        CHANGED = "changed", "changed"

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="changes")
    kind = models.CharField(max_length=10, choices=Kind)
    before = models.JSONField(default=dict, blank=True, help_text="By line and number; nothing personal.")
    after = models.JSONField(default=dict, blank=True)
    why = models.CharField(max_length=300, blank=True, help_text="Names nobody.")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"{self.kind}, {self.at:%Y-%m-%d}"
