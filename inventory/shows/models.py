"""Shows: when and where, what is usually taken, what was packed, tallied, counted back, and what came of it."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from dyehouse.ledger.models import Item, Lot, Movement, Place
from inventory.models import Kit
from recipes.models import Base, Colourway, PutUp


class Show(models.Model):
    """A show, fair or market. What is taken lies at a ledger place of its own, so that nobody else is promised it."""

    name = models.CharField(max_length=50)
    where = models.CharField(max_length=80, blank=True)
    starts_on = models.DateField()
    ends_on = models.DateField()
    note = models.CharField(max_length=300, blank=True)
    place = models.OneToOneField(Place, on_delete=models.PROTECT, related_name="show")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    called_off_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["-starts_on", "-id"], name="show_newest")]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="show_has_name"),
            models.CheckConstraint(
                condition=Q(ends_on__gte=F("starts_on")), name="show_ends_after_it_starts"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class NormalNumber(models.Model):
    """How many of something usually go to a show: a colourway on a put-up, a kit, seconds of a base, one-offs of any kind."""

    colourway = models.ForeignKey(
        Colourway, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    put_up = models.ForeignKey(PutUp, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    kit = models.ForeignKey(Kit, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    seconds_of = models.ForeignKey(Base, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    pieces = models.PositiveIntegerField()
    said_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    colourway__isnull=False, put_up__isnull=False, kit__isnull=True, seconds_of__isnull=True
                )
                | Q(colourway__isnull=True, put_up__isnull=True, kit__isnull=False, seconds_of__isnull=True)
                | Q(colourway__isnull=True, put_up__isnull=True, kit__isnull=True),
                name="normal_number_of_one_sort",
            ),
            models.CheckConstraint(condition=Q(pieces__gte=1), name="normal_number_above_zero"),
            models.UniqueConstraint(
                fields=["colourway", "put_up"],
                condition=Q(colourway__isnull=False),
                name="normal_number_once_a_yarn",
            ),
            models.UniqueConstraint(
                fields=["kit"], condition=Q(kit__isnull=False), name="normal_number_once_a_kit"
            ),
            models.UniqueConstraint(
                fields=["seconds_of"],
                condition=Q(seconds_of__isnull=False),
                name="normal_number_once_a_base",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.pieces} usually"


class Packed(models.Model):
    """So many were packed of what lies in a place, not taken yet. The newest for a row holds."""

    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="packed")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="+")
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="+")
    pieces = models.PositiveIntegerField()
    packed_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "packed"

    def __str__(self) -> str:
        return f"{self.pieces} of {self.lot_id}"


class Load(models.Model):
    """What was taken to a show at once: one movement from the shelves to the show's place. Reversed, it was not taken."""

    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="loads")
    movement = models.OneToOneField(Movement, on_delete=models.PROTECT, related_name="show_load")
    taken_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"to {self.show_id}, {self.taken_at:%Y-%m-%d}"


class Tallied(models.Model):
    """One touch on the tally at the booth: a piece sold, or one touch too many taken back (−1). Moves nothing."""

    key = models.UUIDField(unique=True)
    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="tally")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(
        Lot, on_delete=models.PROTECT, null=True, blank=True, related_name="+", help_text="Of a one-off."
    )
    pieces = models.SmallIntegerField()
    tallied_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "tallied"
        constraints = [models.CheckConstraint(condition=Q(pieces__in=[1, -1]), name="tallied_one_at_a_time")]

    def __str__(self) -> str:
        return f"{self.pieces:+} of {self.item_id}"


class CameBack(models.Model):
    """So many of a lot were counted after a show. The newest for a row holds."""

    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="came_back")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="+")
    pieces = models.PositiveIntegerField()
    counted_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "came back"

    def __str__(self) -> str:
        return f"{self.pieces} of {self.lot_id}"


class SaidSold(models.Model):
    """So many of something were sold by the takings' list; None takes it back. The newest for an item holds."""

    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="said_sold")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(
        Lot, on_delete=models.PROTECT, null=True, blank=True, related_name="+", help_text="Of a one-off."
    )
    pieces = models.PositiveIntegerField(null=True, blank=True)
    said_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "said sold"

    def __str__(self) -> str:
        return f"{self.pieces} of {self.item_id}"


class Takings(models.Model):
    """What a show took in money, in the smallest unit of its currency. The newest holds."""

    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="takings")
    minor = models.PositiveBigIntegerField()
    currency = models.CharField(max_length=3)
    typed_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "takings"

    def __str__(self) -> str:
        return f"{self.minor} {self.currency}"


class Closing(models.Model):
    """A show's closing count put into the book in one movement. Reversed, the show is open again."""

    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="closings")
    movement = models.OneToOneField(Movement, on_delete=models.PROTECT, related_name="show_closing")
    closed_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    why = models.CharField(max_length=300, blank=True)

    def __str__(self) -> str:
        return f"{self.show_id} closed {self.closed_at:%Y-%m-%d}"


class Result(models.Model):
    """What became of one item, or a one-off, at a show: all that was taken came back, was sold, is missing, or is one of the last two."""

    closing = models.ForeignKey(Closing, on_delete=models.PROTECT, related_name="results")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(
        Lot, on_delete=models.PROTECT, null=True, blank=True, related_name="+", help_text="Of a one-off."
    )
    taken = models.PositiveIntegerField()
    returned = models.PositiveIntegerField()
    sold = models.PositiveIntegerField()
    missing = models.PositiveIntegerField()
    sold_or_missing = models.PositiveIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["closing", "item"], condition=Q(lot__isnull=True), name="show_result_once_an_item"
            ),
            models.UniqueConstraint(
                fields=["closing", "item", "lot"],
                condition=Q(lot__isnull=False),
                name="show_result_once_a_one_off",
            ),
            models.CheckConstraint(
                condition=Q(taken=F("returned") + F("sold") + F("missing") + F("sold_or_missing")),
                name="show_result_adds_up",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.taken} of {self.item_id}"
