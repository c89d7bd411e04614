"""What is where, how it got there, and for whom it is held. No other room is known here.

Movements, their lines and claims are only ever added; balances are kept by database triggers (triggers.py) in the
same transaction as the lines, and refuse to go below zero or to hold more than there is.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

LARGEST_QUANTITY = 10**15


class Item(models.Model):
    """What a quantity is of: a base at a put-up, a colourway on it, a dye, a stock, an auxiliary."""

    class Kind(models.TextChoices):
        UNDYED = "undyed", "Undyed yarn"
        DYED = "dyed", "Dyed yarn"
        DYE = "dye", "Dye"
        STOCK = "stock", "Stock solution"
        AUXILIARY = "auxiliary", "Auxiliary"
        MIX = "mix", "Mix of dyes"
        KIT = "kit", "Kit"

    class Unit(models.TextChoices):
        PIECE = "piece", "pieces"
        MILLIGRAM = "mg", "milligrams"
        MICROLITRE = "ul", "microlitres"

    kind = models.CharField(max_length=12, choices=Kind)
    unit = models.CharField(max_length=6, choices=Unit)
    name = models.CharField(
        max_length=200, help_text="For messages and the ledger's own check; rooms show their own names."
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(unit__in=["piece", "mg", "ul"]), name="item_unit_is_known"),
        ]

    def __str__(self) -> str:
        return self.name


class Lot(models.Model):
    """Which batch a quantity belongs to: a mill lot, a dye lot, a jar, a bottle."""

    class Kind(models.TextChoices):
        MILL = "mill", "Mill lot"
        DYE_LOT = "dyelot", "Dye lot"
        JAR = "jar", "Jar"
        BOTTLE = "bottle", "Stock bottle"
        AUXILIARY = "auxiliary", "Auxiliary lot"
        MIX = "mix", "Mix of dyes"
        KIT = "kit", "Kit"

    kind = models.CharField(max_length=12, choices=Kind)
    name = models.CharField(
        max_length=120, help_text="The mill's number, the jar's label, the lot's short code."
    )

    def __str__(self) -> str:
        return self.name


class Place(models.Model):
    """Where things are; boundary places stand for the world outside and keep no balance."""

    class Kind(models.TextChoices):
        STORE = "store", "Store"
        POT = "pot", "In the pots"
        STAGE = "stage", "Stage"
        SHELF = "shelf", "Shelf"
        SHOW = "show", "At a show"
        BOUNDARY = "boundary", "Outside"

    kind = models.CharField(max_length=10, choices=Kind)
    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=60)
    order = models.PositiveSmallIntegerField(default=100, help_text="Along the way from pot to shelf.")
    closed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=["store", "pot", "stage", "shelf", "show", "boundary"]),
                name="place_kind_is_known",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Claim(models.Model):
    """What pieces are held for. Opaque here, and never changed."""

    key = models.UUIDField(unique=True)
    held_for = models.CharField(max_length=200)
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.held_for


class Movement(models.Model):
    """One thing that happened, in as many numbered lines as it says."""

    key = models.UUIDField(unique=True)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    who = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    why = models.CharField(max_length=300, blank=True)
    source = models.CharField(
        max_length=80, blank=True, db_index=True, help_text="What in the house caused it, as kind:key."
    )
    line_count = models.PositiveIntegerField()
    digest = models.CharField(
        max_length=64, help_text="Of the lines, so that the same key with other lines is refused."
    )
    reverses = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="reversed_by")
    found_count = models.PositiveIntegerField(
        default=0,
        help_text="How many of its first lines brought in what was found without being on the books.",
    )

    class Meta:
        indexes = [
            models.Index(fields=["happened_at", "id"], name="movement_happened"),
            models.Index(fields=["id"], condition=Q(found_count__gt=0), name="movement_found"),
        ]
        constraints = [
            models.CheckConstraint(condition=Q(line_count__gte=1), name="movement_has_lines"),
            models.CheckConstraint(
                condition=Q(found_count__gte=0) & Q(found_count__lt=F("line_count")),
                name="movement_found_before_used",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.why or self.source or self.key}"


class Line(models.Model):
    """A quantity of one item and lot from one bucket (a place and, when held, a claim) to another.

    Its foreign keys have no index of their own: the indexes below begin with those that are looked up by.
    """

    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, db_index=False, related_name="lines")
    number = models.PositiveIntegerField()
    item = models.ForeignKey(Item, on_delete=models.PROTECT, db_index=False, related_name="lines")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, db_index=False, related_name="lines")
    quantity = models.PositiveBigIntegerField()
    from_place = models.ForeignKey(Place, on_delete=models.PROTECT, db_index=False, related_name="+")
    from_claim = models.ForeignKey(Claim, on_delete=models.PROTECT, null=True, related_name="+")
    to_place = models.ForeignKey(Place, on_delete=models.PROTECT, db_index=False, related_name="+")
    to_claim = models.ForeignKey(Claim, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["movement", "number"], name="line_number_once"),
            models.CheckConstraint(condition=Q(number__gte=1), name="line_number_from_one"),
            models.CheckConstraint(condition=Q(quantity__gte=1), name="line_quantity_above_zero"),
            # A million tonnes in milligrams: far from what 64 bits hold, so that no sum of lines runs over.
            models.CheckConstraint(
                condition=Q(quantity__lte=LARGEST_QUANTITY), name="line_quantity_within_reason"
            ),
            models.CheckConstraint(
                condition=~Q(from_place=F("to_place"))
                | Q(from_claim__isnull=True, to_claim__isnull=False)
                | Q(from_claim__isnull=False, to_claim__isnull=True)
                | (Q(from_claim__isnull=False, to_claim__isnull=False) & ~Q(from_claim=F("to_claim"))),
                name="line_goes_somewhere",
            ),
        ]
        indexes = [
            models.Index(fields=["item", "lot", "id"], name="line_item_lot"),
            models.Index(fields=["lot", "id"], name="line_lot"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.item_id} from {self.from_place_id} to {self.to_place_id}"


class Balance(models.Model):
    """How many are in a real place, and how many of them are held. Kept by the triggers."""

    place = models.ForeignKey(Place, on_delete=models.PROTECT, db_index=False, related_name="balances")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, db_index=False, related_name="balances")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, db_index=False, related_name="balances")
    on_hand = models.BigIntegerField(default=0)
    held = models.BigIntegerField(default=0)
    last_line = models.ForeignKey(
        Line,
        on_delete=models.PROTECT,
        db_index=False,
        related_name="+",
        help_text="The line that changed it last.",
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["place", "item", "lot"], name="balance_once"),
            models.CheckConstraint(
                condition=Q(held__gte=0) & Q(on_hand__gte=F("held")), name="balance_never_below_zero"
            ),
        ]
        indexes = [
            models.Index(fields=["item", "lot"], name="balance_item_lot"),
            models.Index(fields=["lot"], name="balance_lot"),
            # Of all that ever lay somewhere, little still does: pages of what is there read no more than that. SQLite keeps
            # no statistics here, so it takes the one that begins with what the page groups or narrows by.
            models.Index(fields=["item", "lot"], condition=Q(on_hand__gt=0), name="balance_there"),
            models.Index(
                fields=["place", "item", "lot"], condition=Q(on_hand__gt=0), name="balance_there_by_place"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.on_hand} of {self.item_id} at {self.place_id}"

    @property
    def free(self) -> int:
        return self.on_hand - self.held


class Held(models.Model):
    """How many a claim holds, where, of what. Kept by the triggers."""

    claim = models.ForeignKey(Claim, on_delete=models.PROTECT, db_index=False, related_name="held")
    place = models.ForeignKey(Place, on_delete=models.PROTECT, db_index=False, related_name="+")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, db_index=False, related_name="+")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, db_index=False, related_name="+")
    quantity = models.BigIntegerField(default=0)
    last_line = models.ForeignKey(
        Line,
        on_delete=models.PROTECT,
        db_index=False,
        related_name="+",
        help_text="The line that changed it last.",
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["claim", "place", "item", "lot"], name="held_once"),
            models.CheckConstraint(condition=Q(quantity__gte=0), name="held_never_below_zero"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} for {self.claim_id}"


class AgreedCount(models.Model):
    """A count that found just what the book had: nothing moved, and still somebody looked. Only ever added."""

    key = models.UUIDField(unique=True)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, db_index=False, related_name="+")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="+")
    place = models.ForeignKey(Place, on_delete=models.PROTECT, db_index=False, related_name="+")
    quantity = models.BigIntegerField()
    recorded_at = models.DateTimeField()
    who = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(quantity__gte=0), name="agreed_count_not_negative")]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.item_id} counted"
