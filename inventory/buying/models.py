"""Whom yarn and dye are bought of, what was ordered, what came of it, and what was charged."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from dyehouse.ledger.models import Item, Lot, Movement

LONGEST_LEAD_DAYS = 365


class Supplier(models.Model):
    """A mill or a dye maker: how long they take, and in which money they write their invoices."""

    class Kind(models.TextChoices):
        MILL = "mill", "Yarn"
        DYES = "dyes", "Dyes and auxiliaries"
        BOTH = "both", "Both"

    name = models.CharField(max_length=80, unique=True)
    kind = models.CharField(max_length=6, choices=Kind, default=Kind.MILL)
    lead_days = models.PositiveSmallIntegerField(
        validators=[MaxValueValidator(LONGEST_LEAD_DAYS)], help_text="From the order to the door."
    )
    currency = models.CharField(max_length=3, help_text="Of their invoices; three letters, as in ISO 4217.")
    email = models.EmailField(blank=True, help_text="Where orders go.")
    note = models.CharField(max_length=300, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name


class ClosedWeeks(models.Model):
    """Days on which a supplier does nothing, the first and the last included; the same days each year when it repeats."""

    supplier = models.ForeignKey(Supplier, on_delete=models.CASCADE, related_name="closed_weeks")
    first_day = models.DateField()
    last_day = models.DateField()
    every_year = models.BooleanField(default=False)

    class Meta:
        verbose_name_plural = "closed weeks"
        constraints = [
            models.CheckConstraint(condition=Q(last_day__gte=F("first_day")), name="closed_weeks_in_order"),
        ]

    def __str__(self) -> str:
        return f"{self.supplier} closed {self.first_day} to {self.last_day}"


class Offer(models.Model):
    """What a supplier sells of what the studio uses, by the pack: pieces of a put-up, or a package of dye in mg or µl.

    The price is of one pack, in the supplier's currency; empty is not known.
    """

    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="offers")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="offers")
    pack_quantity = models.PositiveBigIntegerField(validators=[MinValueValidator(1)])
    price_minor = models.PositiveBigIntegerField(null=True, blank=True)
    breaks = models.JSONField(
        default=list, blank=True, help_text="Pairs: from so many packs at once, a pack costs this."
    )
    their_number = models.CharField("their number", max_length=60, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["supplier", "item", "pack_quantity"], name="offer_once_a_supplier"
            ),
            models.CheckConstraint(condition=Q(pack_quantity__gte=1), name="offer_pack_holds_something"),
        ]

    def __str__(self) -> str:
        return f"{self.item} from {self.supplier}"


class Purchase(models.Model):
    """An order to a supplier. Its lines may change until it is sent; what came of it is told by its deliveries."""

    key = models.UUIDField(unique=True)
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="purchases")
    currency = models.CharField(max_length=3)
    note = models.CharField(max_length=300, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ordered_on = models.DateField(null=True, blank=True)
    expected_on = models.DateField(null=True, blank=True, help_text="The newest word of it.")
    dropped_at = models.DateTimeField(null=True, blank=True, help_text="A draft that was never sent.")

    class Meta:
        indexes = [models.Index(fields=["ordered_on"], name="purchase_ordered")]
        constraints = [
            models.CheckConstraint(
                condition=Q(ordered_on__isnull=True) | Q(expected_on__isnull=False),
                name="purchase_sent_is_expected",
            ),
            models.CheckConstraint(
                condition=Q(ordered_on__isnull=True) | Q(dropped_at__isnull=True),
                name="purchase_sent_is_not_dropped",
            ),
        ]

    def __str__(self) -> str:
        return f"order {self.pk} to {self.supplier}"


class ExpectedDay(models.Model):
    """When an order is expected, as reckoned when it was sent or as the supplier said later. Only ever added."""

    purchase = models.ForeignKey(Purchase, on_delete=models.PROTECT, related_name="expected_days")
    day = models.DateField()
    words = models.CharField(max_length=300, help_text="How it was reckoned, or who said so.")
    said_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"{self.purchase_id} on {self.day}"


class PurchaseLine(models.Model):
    """So many packs of one thing at the price that was agreed."""

    purchase = models.ForeignKey(Purchase, on_delete=models.PROTECT, related_name="lines")
    number = models.PositiveIntegerField()
    key = models.UUIDField(
        null=True,
        blank=True,
        help_text="Of what was sent when it was added later, so that sending twice adds once.",
    )
    offer = models.ForeignKey(Offer, on_delete=models.PROTECT, related_name="lines")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    pack_quantity = models.PositiveBigIntegerField()
    packs = models.PositiveIntegerField()
    price_minor = models.PositiveBigIntegerField(null=True, blank=True, help_text="Of a pack.")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["purchase", "number"], name="purchase_line_once"),
            models.CheckConstraint(
                condition=Q(packs__gte=1, pack_quantity__gte=1), name="purchase_line_of_something"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.packs} packs of {self.item}"

    @property
    def ordered(self) -> int:
        """In pieces, mg or µl."""
        return self.packs * self.pack_quantity


class Delivery(models.Model):
    """What came of an order at one time."""

    key = models.UUIDField(unique=True)
    purchase = models.ForeignKey(Purchase, on_delete=models.PROTECT, related_name="deliveries")
    arrived_on = models.DateField()
    note = models.CharField(max_length=300, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "deliveries"

    def __str__(self) -> str:
        return f"delivery of {self.arrived_on} to {self.purchase_id}"


class Arrival(models.Model):
    """What came of one line in one lot: a mill lot, a jar, an auxiliary. Only ever added.

    The movement took it into the store; an arrival that was wrong is one whose movement was reversed.
    """

    delivery = models.ForeignKey(Delivery, on_delete=models.PROTECT, related_name="arrivals")
    line = models.ForeignKey(PurchaseLine, on_delete=models.PROTECT, related_name="arrivals")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="arrivals")
    movement = models.OneToOneField(Movement, on_delete=models.PROTECT, related_name="arrival")
    quantity = models.PositiveBigIntegerField()

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(quantity__gte=1), name="arrival_of_something")]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.line_id}"


class Bill(models.Model):
    """What was charged for a delivery beside the goods. Only ever added: the newest of a delivery holds."""

    delivery = models.ForeignKey(Delivery, on_delete=models.PROTECT, related_name="bills")
    freight_minor = models.PositiveBigIntegerField(default=0)
    other_minor = models.PositiveBigIntegerField(default=0, help_text="Duty, fees, packing.")
    rate_millionths = models.PositiveBigIntegerField(
        null=True, blank=True, help_text="Of the studio's currency for one of the bill's, times a million."
    )
    said_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(rate_millionths__isnull=True) | Q(rate_millionths__gte=1),
                name="bill_rate_above_zero",
            ),
        ]

    def __str__(self) -> str:
        return f"bill of {self.delivery_id}"


class BillLine(models.Model):
    """What the goods of one arrival cost by a bill, all of them together. Only ever added."""

    bill = models.ForeignKey(Bill, on_delete=models.PROTECT, related_name="lines")
    arrival = models.ForeignKey(Arrival, on_delete=models.PROTECT, related_name="billed")
    goods_minor = models.PositiveBigIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["bill", "arrival"], name="bill_line_once")]

    def __str__(self) -> str:
        return f"{self.goods_minor} for {self.arrival_id}"


class ClosedShort(models.Model):
    """The rest of a line will not come. Only ever added; what comes after all still counts as come."""

    line = models.OneToOneField(PurchaseLine, on_delete=models.PROTECT, related_name="closed_short")
    why = models.CharField(max_length=300)
    said_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "closed short"
        constraints = [models.CheckConstraint(condition=~Q(why=""), name="closed_short_says_why")]

    def __str__(self) -> str:
        return f"rest of {self.line_id}: {self.why}"


class BuyingHabits(models.Model):
    """How the studio reckons what to order: one row."""

    look_back_weeks = models.PositiveSmallIntegerField(
        default=13, validators=[MinValueValidator(1), MaxValueValidator(104)]
    )
    safety_weeks = models.PositiveSmallIntegerField(default=2, validators=[MaxValueValidator(52)])
    cover_weeks = models.PositiveSmallIntegerField(
        default=6, validators=[MinValueValidator(1), MaxValueValidator(52)]
    )
    ready_days = models.PositiveSmallIntegerField(default=7, validators=[MaxValueValidator(90)])
    near_days = models.PositiveSmallIntegerField(default=7, validators=[MaxValueValidator(90)])
    promised_on_top = models.BooleanField(default=True)

    class Meta:
        verbose_name_plural = "buying habits"
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="buying_habits_only_one")]

    def __str__(self) -> str:
        return "Buying habits"

    @classmethod
    def current(cls) -> BuyingHabits:
        """The studio's habits; the defaults until somebody changes them."""
        return cls.objects.filter(pk=1).first() or cls(pk=1)
