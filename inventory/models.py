"""What is said about yarn on the shelf: whom it is put aside for, and what is sold together."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from dyehouse.ledger.models import Claim, Item, Lot, Movement, Place
from recipes.lots.models import DyeLot
from recipes.models import Colourway, DyedYarn, MillLot, PutUp


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


class Kit(models.Model):
    """Skeins that are sold together, in an order: a kit, a fade, a gradient, a set of minis, a box with a day for each."""

    class Kind(models.TextChoices):
        KIT = "kit", "kit"
        FADE = "fade", "fade set"
        GRADIENT = "gradient", "gradient"
        MINIS = "minis", "mini set"
        BOX = "box", "box of days"

    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.KIT)
    one_of_a_kind = models.BooleanField(default=False, help_text="Put together once, from what lay there.")
    item = models.OneToOneField(Item, on_delete=models.PROTECT, related_name="kit")
    made_at = models.DateTimeField()
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["name"], condition=Q(one_of_a_kind=False), name="kit_name_once"),
            models.CheckConstraint(condition=~Q(name=""), name="kit_has_name"),
        ]

    def __str__(self) -> str:
        return self.name


class KitPart(models.Model):
    """One place in the order of a kit: so many good pieces of a colourway on a put-up."""

    kit = models.ForeignKey(Kit, on_delete=models.PROTECT, related_name="parts")
    position = models.PositiveIntegerField()
    colourway = models.ForeignKey(Colourway, on_delete=models.PROTECT, related_name="+")
    put_up = models.ForeignKey(PutUp, on_delete=models.PROTECT, related_name="+")
    pieces = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kit", "position"], name="kit_position_once"),
            models.CheckConstraint(condition=Q(pieces__gte=1), name="kit_part_has_pieces"),
        ]

    def __str__(self) -> str:
        return f"{self.position} of {self.kit_id}"


class BuiltKit(models.Model):
    """One kit put together: a ledger lot of its own, so that breaking it up gives back the very skeins it took."""

    kit = models.ForeignKey(Kit, on_delete=models.PROTECT, related_name="built")
    code = models.CharField(max_length=12, unique=True)
    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="built_kit")
    movement = models.OneToOneField(Movement, on_delete=models.PROTECT, related_name="built_kit")
    built_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return self.code


class CountRound(models.Model):
    """Counting one place through, by whomever, for as long as it takes: open until its differences are settled."""

    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="count_rounds")
    started_at = models.DateTimeField()
    started_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    why = models.CharField(max_length=300, blank=True)
    movement = models.OneToOneField(
        Movement, on_delete=models.PROTECT, null=True, blank=True, related_name="count_round"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["place"], condition=Q(closed_at__isnull=True), name="count_round_open_once_a_place"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.place}, {self.started_at:%Y-%m-%d}"


class Counted(models.Model):
    """So many were seen of something in a round, and what the book had at that moment. The newest for a row holds."""

    round = models.ForeignKey(CountRound, on_delete=models.PROTECT, related_name="counts")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="+")
    pieces = models.PositiveIntegerField()
    book_pieces = models.PositiveIntegerField()
    counted_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "counted"
        indexes = [models.Index(fields=["round", "item", "lot", "-id"], name="counted_newest")]

    def __str__(self) -> str:
        return f"{self.pieces} of {self.lot_id}"


class LotMatch(models.Model):
    """Two lots that somebody laid side by side in daylight and found to match. Taken back, it stays readable."""

    first = models.ForeignKey(DyeLot, on_delete=models.PROTECT, related_name="+")
    second = models.ForeignKey(DyeLot, on_delete=models.PROTECT, related_name="+")
    words = models.CharField(max_length=300, blank=True)
    said_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    taken_back_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "lot matches"
        constraints = [
            models.UniqueConstraint(
                fields=["first", "second"],
                condition=Q(taken_back_at__isnull=True),
                name="lot_match_once",
            ),
            models.CheckConstraint(condition=Q(first__lt=models.F("second")), name="lot_match_in_order"),
        ]

    def __str__(self) -> str:
        return f"{self.first_id} and {self.second_id}"


class PutUpChange(models.Model):
    """Pieces wound off into other put-ups of the same base: of a dye lot or of a mill lot, which they stay of.

    `waste_milligrams` is what went in by the put-ups' nominal weights and did not come out. Taken back by reversing its
    movement.
    """

    movement = models.OneToOneField(Movement, on_delete=models.PROTECT, related_name="put_up_change")
    dye_lot = models.ForeignKey(
        DyeLot, on_delete=models.PROTECT, null=True, blank=True, related_name="put_up_changes"
    )
    mill_lot = models.ForeignKey(
        MillLot, on_delete=models.PROTECT, null=True, blank=True, related_name="put_up_changes"
    )
    colourway = models.ForeignKey(
        Colourway, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    grade = models.CharField(max_length=10, blank=True, choices=DyedYarn.Grade)
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="+")
    put_up = models.ForeignKey(PutUp, on_delete=models.PROTECT, related_name="wound_off")
    pieces = models.PositiveIntegerField()
    waste_milligrams = models.PositiveBigIntegerField()
    waste_why = models.CharField(max_length=300, blank=True)
    changed_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(dye_lot__isnull=False, mill_lot__isnull=True, colourway__isnull=False)
                | Q(dye_lot__isnull=True, mill_lot__isnull=False, colourway__isnull=True),
                name="put_up_change_of_one_lot",
            ),
            models.CheckConstraint(condition=Q(pieces__gte=1), name="put_up_change_has_pieces"),
            models.CheckConstraint(
                condition=Q(waste_milligrams=0) | ~Q(waste_why=""), name="put_up_change_says_why_waste"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.pieces} of {self.put_up_id} wound off"


class PutUpMade(models.Model):
    """So many pieces of a put-up that one winding off made."""

    change = models.ForeignKey(PutUpChange, on_delete=models.PROTECT, related_name="made")
    put_up = models.ForeignKey(PutUp, on_delete=models.PROTECT, related_name="+")
    pieces = models.PositiveIntegerField()

    class Meta:
        verbose_name_plural = "put-ups made"
        constraints = [
            models.UniqueConstraint(fields=["change", "put_up"], name="put_up_made_once"),
            models.CheckConstraint(condition=Q(pieces__gte=1), name="put_up_made_has_pieces"),
        ]

    def __str__(self) -> str:
        return f"{self.pieces} of {self.put_up_id}"


class OneOff(models.Model):
    """Pieces that are sold once, under a name and a picture of their own: a skein, or a small lot.

    Its lot has the name (`DyeLot.own_name`). Pieces out of a larger lot get a lot of their own by `movement`; a whole lot
    keeps the one it has. Put back, or no longer sold as one, it stays readable.
    """

    key = models.UUIDField(unique=True, help_text="Made with the page, so that sending twice keeps one.")
    dye_lot = models.ForeignKey(DyeLot, on_delete=models.PROTECT, related_name="one_offs")
    words = models.CharField(max_length=300, blank=True)
    pieces = models.PositiveIntegerField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    movement = models.ForeignKey(
        Movement, on_delete=models.PROTECT, null=True, blank=True, related_name="one_offs"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(pieces__gte=1), name="one_off_has_pieces"),
            models.UniqueConstraint(
                fields=["dye_lot"], condition=Q(ended_at__isnull=True), name="one_off_once_a_lot"
            ),
        ]

    def __str__(self) -> str:
        return str(self.dye_lot_id)
