"""What was paid, what work usually takes, what is asked for a piece, and the figures of years that are closed.

Money is whole smallest units (minor) of a currency. What one piece, milligram or microlitre costs is kept in billionths of
such a unit (nano), so that a gram of dye at a few cents keeps its digits. Only `UnitCost` and `Reckoned` are ever changed:
they are worked out of everything else and can be thrown away.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from dyehouse.ledger.models import Item, Line, Lot, Place
from inventory.models import Kit
from recipes.lots.models import Pot
from recipes.models import Colourway, PutUp

RATE_PLACES = 9


class Paid(models.Model):
    """What was paid for one arrival, as the invoice says it, with the day's rate. The newest for an arrival holds."""

    key = models.UUIDField(unique=True)
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="paid", db_index=False)
    goods_minor = models.PositiveBigIntegerField(help_text="For the whole arrival, without freight.")
    freight_minor = models.PositiveBigIntegerField(default=0, help_text="Its share of the freight.")
    currency = models.CharField(max_length=3)
    rate_billionths = models.PositiveBigIntegerField(
        default=10**RATE_PLACES, help_text="How much of the studio's money one of its was worth that day."
    )
    note = models.CharField(max_length=200, blank=True)
    said_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "paid"
        indexes = [models.Index(fields=["line", "-id"], name="paid_newest")]
        constraints = [models.CheckConstraint(condition=Q(rate_billionths__gte=1), name="paid_has_rate")]

    def __str__(self) -> str:
        return f"{self.goods_minor} {self.currency} for {self.line_id}"


class Minutes(models.Model):
    """Seconds that the stages of the work take; what is empty is not known."""

    load_seconds = models.PositiveIntegerField(null=True, blank=True)
    dye_seconds = models.PositiveIntegerField(null=True, blank=True)
    rinse_seconds = models.PositiveIntegerField(null=True, blank=True)
    twist_seconds = models.PositiveIntegerField(null=True, blank=True)
    label_seconds = models.PositiveIntegerField(null=True, blank=True)
    photograph_seconds = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        abstract = True


class UsualCosts(Minutes):
    """What work and small things usually cost from a day on: load, dye and rinse a pot, the other stages a piece."""

    key = models.UUIDField(unique=True)
    from_day = models.DateField()
    wage_minor = models.PositiveIntegerField(null=True, blank=True, help_text="An hour.")
    energy_minor = models.PositiveIntegerField(null=True, blank=True, help_text="A pot.")
    label_minor = models.PositiveIntegerField(null=True, blank=True, help_text="A piece.")
    kit_minor = models.PositiveIntegerField(null=True, blank=True, help_text="Wrapping and label of a kit.")
    kit_seconds = models.PositiveIntegerField(null=True, blank=True, help_text="Putting one kit together.")
    second_percent = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="What a second is expected to bring, in percent of the retail price."
    )
    said_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "usual costs"
        constraints = [
            models.CheckConstraint(
                condition=Q(second_percent__isnull=True) | Q(second_percent__lte=100),
                name="usual_second_at_most_all",
            )
        ]

    def __str__(self) -> str:
        return f"from {self.from_day}"


class PotCosts(Minutes):
    """What one pot really took, all its pieces together; the newest holds, and what is empty in it is as usual."""

    key = models.UUIDField(unique=True)
    pot = models.ForeignKey(Pot, on_delete=models.PROTECT, related_name="costs")
    energy_minor = models.PositiveIntegerField(null=True, blank=True)
    said_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "pot costs"

    def __str__(self) -> str:
        return f"costs of {self.pot_id}"


class RetailPrice(models.Model):
    """What a piece is sold for from a day on: of a put-up, of one colourway on it, or of a kit. Empty ends an own price."""

    key = models.UUIDField(unique=True)
    put_up = models.ForeignKey(
        PutUp, on_delete=models.PROTECT, null=True, blank=True, related_name="retail_prices"
    )
    colourway = models.ForeignKey(
        Colourway, on_delete=models.PROTECT, null=True, blank=True, related_name="retail_prices"
    )
    kit = models.ForeignKey(Kit, on_delete=models.PROTECT, null=True, blank=True, related_name="prices")
    minor = models.PositiveIntegerField(null=True, blank=True)
    currency = models.CharField(max_length=3)
    from_day = models.DateField()
    said_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["put_up", "colourway", "-from_day", "-id"], name="retail_newest")]
        constraints = [
            models.CheckConstraint(
                condition=Q(put_up__isnull=False, kit__isnull=True)
                | Q(put_up__isnull=True, kit__isnull=False, colourway__isnull=True),
                name="retail_price_of_one_thing",
            )
        ]

    def __str__(self) -> str:
        return f"{self.minor} {self.currency} from {self.from_day}"


class UnitCost(models.Model):
    """What one piece, milligram or microlitre of an item and lot costs, by its parts. Worked out, never entered."""

    item = models.ForeignKey(Item, on_delete=models.CASCADE, related_name="+", db_index=False)
    lot = models.ForeignKey(Lot, on_delete=models.CASCADE, related_name="+")
    nano = models.BigIntegerField()
    parts = models.JSONField(default=dict)
    guesses = models.JSONField(default=list)
    lacking = models.JSONField(default=list)
    layers = models.JSONField(
        default=list, help_text="Of yarn of an unknown mill lot: what came in, the oldest entry first."
    )

    class Meta:
        constraints = [models.UniqueConstraint(fields=["item", "lot"], name="unit_cost_once")]

    def __str__(self) -> str:
        return f"{self.nano} of {self.item_id} {self.lot_id}"


class Reckoned(models.Model):
    """How far the costs of a piece are worked out: up to which movement, and what must be worked out again."""

    last_movement = models.BigIntegerField(default=0)
    last_bill = models.BigIntegerField(default=0)
    all_again = models.BooleanField(default=True)
    again = models.JSONField(default=list, help_text="Items and lots.")

    class Meta:
        verbose_name_plural = "reckoned"

    def __str__(self) -> str:
        return f"up to {self.last_movement}"


class ClosedYear(models.Model):
    """The stock of the last day of a year as it was known when the year was closed. It never changes."""

    key = models.UUIDField(unique=True)
    ends_on = models.DateField(unique=True)
    before = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="after"
    )
    closed_at = models.DateTimeField()
    closed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    last_movement = models.BigIntegerField(help_text="What was entered later counts in the next year.")
    currency = models.CharField(max_length=3)
    note = models.CharField(max_length=300, blank=True)

    def __str__(self) -> str:
        return f"year to {self.ends_on}"


class ClosedRow(models.Model):
    """One item and lot at one place on the last day: how much, at what cost, at what value, in the words of that day."""

    year = models.ForeignKey(ClosedYear, on_delete=models.PROTECT, related_name="rows")
    category = models.CharField(max_length=10)
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="+", db_index=False)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+", db_index=False)
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="+", db_index=False)
    quantity = models.BigIntegerField(help_text="Below nothing where it left, by its dates, before it came.")
    cost_nano = models.DecimalField(max_digits=30, decimal_places=0, help_text="Of all of it, exactly.")
    carried_nano = models.DecimalField(
        max_digits=30, decimal_places=0, help_text="The lower of cost and expected price."
    )
    value_minor = models.BigIntegerField()
    what = models.CharField(max_length=200)
    which = models.CharField(max_length=120)
    where = models.CharField(max_length=60)
    method = models.CharField(max_length=10)
    guesses = models.JSONField(default=list)
    lacking = models.JSONField(default=list)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["year", "place", "item", "lot"], name="closed_row_once"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} {self.what}"


class ClosedSum(models.Model):
    """One figure of how a year's closing stock came about: of a row and a category, in whole smallest units."""

    year = models.ForeignKey(ClosedYear, on_delete=models.PROTECT, related_name="sums")
    number = models.PositiveSmallIntegerField()
    row = models.CharField(max_length=20)
    category = models.CharField(max_length=10)
    minor = models.BigIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["year", "row", "category"], name="closed_sum_once"),
        ]

    def __str__(self) -> str:
        return f"{self.row} {self.category} {self.minor}"
