"""Pots, what was really done in them, the lots that came out, and how they were judged."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from django.db import models
from django.db.models import Q

from dyehouse.ledger.models import Lot, Movement, Place
from dyehouse.studio.models import Vessel
from recipes.models import (
    Auxiliary,
    Base,
    Colourway,
    Dye,
    DyedYarn,
    Jar,
    MillLot,
    Mix,
    PutUp,
    Rule,
    StockBottle,
    WayOfDyeing,
)

if TYPE_CHECKING:
    from dyehouse.studio.models import User


class RedyePlan(models.Model):
    """So many pieces of a colourway on a put-up, from one way of dyeing, split over pots."""

    key = models.UUIDField(unique=True, help_text="Made with the page, so that sending twice plans once.")
    way = models.ForeignKey(WayOfDyeing, on_delete=models.PROTECT, related_name="plans")
    put_up = models.ForeignKey(PutUp, on_delete=models.PROTECT, related_name="+")
    mill_lot = models.ForeignKey(MillLot, on_delete=models.PROTECT, null=True, related_name="+")
    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="+")
    pieces = models.PositiveIntegerField()
    piece_dry_milligrams = models.PositiveBigIntegerField()
    liquor_ratio_tenths = models.PositiveIntegerField(help_text="Litres a kilogram, times ten.")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pieces__gte=1), name="plan_has_pieces")]

    def __str__(self) -> str:
        return f"{self.pieces} of {self.way}"


class DyeLot(models.Model):
    """Pieces that were dyed together and match: one pot, or pots fed from one jug. Its code is its first pot's."""

    code = models.CharField(max_length=12, unique=True)
    colourway = models.ForeignKey(Colourway, on_delete=models.PROTECT, related_name="lots")
    made_at = models.DateTimeField()
    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="dye_lot")
    from_before = models.BooleanField(
        default=False, help_text="Dyed before the house was used; there is no log."
    )
    own_name = models.CharField(
        max_length=80, blank=True, help_text="What is sold once goes by a name of its own."
    )
    taken_from = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="taken",
        help_text="The lot its pieces were of before they got this one for themselves.",
    )

    def __str__(self) -> str:
        return self.code

    def shown_name(self, user: User | None) -> str:
        """Its own name, else its colourway's; a secret colourway's code to all who may not know it (see there)."""
        if self.own_name and self.colourway.may_be_seen_by(user):
            return self.own_name
        return self.colourway.shown_name(user)

    @property
    def dyed_as_id(self) -> int:
        """The id of the lot that its pieces were dyed as: its own, or that of the lot they were taken from."""
        return self.taken_from_id or self.pk


class Pot(models.Model):
    """One load in one vessel. Planned until it is loaded, in work until its pieces are out."""

    class Bath(models.TextChoices):
        CLEAR = "clear", "clear"
        TINTED = "tinted", "tinted"
        COLOURED = "coloured", "coloured"

    code = models.CharField(max_length=12, unique=True)
    colourway = models.ForeignKey(Colourway, on_delete=models.PROTECT, related_name="pots")
    way = models.ForeignKey(WayOfDyeing, on_delete=models.PROTECT, null=True, blank=True, related_name="pots")
    plan = models.ForeignKey(RedyePlan, on_delete=models.PROTECT, null=True, blank=True, related_name="pots")
    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, null=True, blank=True, related_name="pots")
    planned_bath_microlitres = models.PositiveBigIntegerField(null=True, blank=True)
    made_at = models.DateTimeField()
    started_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    loaded_at = models.DateTimeField(null=True, blank=True)
    out_at = models.DateTimeField(null=True, blank=True)
    dropped_at = models.DateTimeField(null=True, blank=True, help_text="A planned pot that was not dyed.")
    bath_at_end = models.CharField(max_length=10, choices=Bath, blank=True)
    dye_lot = models.ForeignKey(DyeLot, on_delete=models.PROTECT, null=True, blank=True, related_name="pots")
    # Asked when making it repeatable, answerable at any time; empty is "not known".
    presoak_minutes = models.PositiveIntegerField(null=True, blank=True)
    lay = models.CharField(max_length=300, blank=True)
    lay_plan = models.JSONField(
        default=dict, blank=True, help_text="Sections along the hank, as recipes.dyeing.lay writes them."
    )
    cooling = models.CharField(max_length=120, blank=True)
    strip_milligrams = models.PositiveBigIntegerField(
        null=True, blank=True, help_text="A test strip beside the pieces; dry weight."
    )
    bath_from = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="bath_went_to",
        help_text="The pot whose bath is used again; empty is a fresh bath.",
    )
    sample = models.BooleanField(default=False, help_text="Dyed to see the colour before the pots of a plan.")
    water = models.JSONField(
        default=dict, blank=True, help_text="The studio's water when it was loaded, as far as it was known."
    )

    class Meta:
        indexes = [models.Index(fields=["out_at", "loaded_at"], name="pot_in_work")]
        constraints = [
            models.CheckConstraint(
                condition=Q(out_at__isnull=True) | Q(loaded_at__isnull=False), name="pot_out_was_loaded"
            ),
            models.CheckConstraint(
                condition=Q(out_at__isnull=True) | Q(dye_lot__isnull=False), name="pot_out_has_lot"
            ),
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def is_trial(self) -> bool:
        return self.way_id is None

    @property
    def state(self) -> str:
        """planned, dropped, in work, or out."""
        if self.out_at is not None:
            return "out"
        if self.loaded_at is not None:
            return "in work"
        return "dropped" if self.dropped_at is not None else "planned"


class PotLoad(models.Model):
    """What lies in a pot: so many pieces of a put-up from one mill lot, and their dry weight together."""

    pot = models.ForeignKey(Pot, on_delete=models.PROTECT, related_name="loads")
    put_up = models.ForeignKey(PutUp, on_delete=models.PROTECT, related_name="+")
    mill_lot = models.ForeignKey(MillLot, on_delete=models.PROTECT, related_name="loads")
    pieces = models.PositiveIntegerField()
    dry_milligrams = models.PositiveBigIntegerField()
    weighed = models.BooleanField(default=False, help_text="Weighed, rather than taken from the put-up.")
    overdyes = models.ForeignKey(
        DyeLot,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="overdyed_in",
        help_text="The earlier lot these pieces are of; empty is undyed yarn.",
    )
    was = models.ForeignKey(
        DyedYarn,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="As what they lay there.",
    )
    from_place = models.ForeignKey(Place, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(pieces__gte=1), name="load_has_pieces"),
            models.CheckConstraint(condition=Q(dry_milligrams__gte=1), name="load_weighs_something"),
            models.CheckConstraint(
                condition=Q(overdyes__isnull=True, was__isnull=True)
                | Q(overdyes__isnull=False, was__isnull=False),
                name="load_overdyed_says_what",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.pieces} in {self.pot_id}"


class LeftInBath(models.Model):
    """What somebody says a reused bath still holds of a dye. The newest for a dye holds; unsaid is unknown."""

    pot = models.ForeignKey(Pot, on_delete=models.PROTECT, related_name="left_in_bath")
    dye = models.ForeignKey(Dye, on_delete=models.PROTECT, related_name="+")
    micrograms = models.PositiveBigIntegerField()
    said_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "left in bath"

    def __str__(self) -> str:
        return f"{self.dye_id} left in the bath of {self.pot_id}"


class PlannedStep(models.Model):
    """What a redye means to do in a pot: a rule scaled to this pot and rounded to what can be measured."""

    pot = models.ForeignKey(Pot, on_delete=models.PROTECT, related_name="planned")
    number = models.PositiveIntegerField()
    rule = models.ForeignKey(Rule, on_delete=models.PROTECT, null=True, related_name="+")
    exact_thousandths = models.PositiveBigIntegerField(
        null=True, help_text="Micrograms or nanolitres before rounding."
    )
    milligrams = models.PositiveBigIntegerField(null=True)
    microlitres = models.PositiveBigIntegerField(null=True)
    strength_mg_per_litre = models.PositiveIntegerField(null=True)
    hanks = models.PositiveIntegerField(null=True, help_text="Entered or taken out, scaled to the load.")
    minute = models.PositiveIntegerField(null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["pot", "number"], name="planned_step_once")]

    def __str__(self) -> str:
        return f"step {self.number} of {self.pot_id}"


class Photo(models.Model):
    """A picture, cleaned of everything but the picture, and what it shows."""

    class Kind(models.TextChoices):
        POT = "pot", "at the pot"
        DAYLIGHT = "daylight", "in daylight"
        SWATCH = "swatch", "swatch"
        NOTES = "notes", "a page of notes"

    key = models.UUIDField(unique=True)
    kind = models.CharField(max_length=10, choices=Kind)
    pot = models.ForeignKey(Pot, on_delete=models.PROTECT, null=True, blank=True, related_name="photos")
    dye_lot = models.ForeignKey(
        DyeLot, on_delete=models.PROTECT, null=True, blank=True, related_name="photos"
    )
    way = models.ForeignKey(
        WayOfDyeing, on_delete=models.PROTECT, null=True, blank=True, related_name="photos"
    )
    file = models.CharField(max_length=200)
    thumbnail = models.CharField(max_length=200)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return self.file


class LogEntry(models.Model):
    """One thing done or seen at a pot, as typed and as read. Only ever added; a strike is an entry of its own."""

    class Kind(models.TextChoices):
        STOCK = "stock", "stock solution"
        POWDER = "powder", "dye powder"
        MIX = "mix", "mix of dyes"
        AUXILIARY = "auxiliary", "auxiliary"
        WATER = "water", "water"
        TEMPERATURE = "temperature", "temperature"
        PH = "ph", "pH"
        HEAT = "heat", "heat"
        EXHAUSTED = "exhausted", "bath clear"
        TECHNIQUE = "technique", "technique"
        NOTE = "note", "note"
        PHOTO = "photo", "photo"
        STRIKE = "strike", "struck"

    pot = models.ForeignKey(Pot, on_delete=models.PROTECT, related_name="entries")
    key = models.UUIDField(unique=True, help_text="Made on the phone, so that sending twice keeps one.")
    kind = models.CharField(max_length=12, choices=Kind)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    who = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    typed = models.CharField(max_length=500, blank=True)
    question = models.CharField(max_length=300, blank=True, help_text="What the reader was in doubt about.")
    name = models.CharField(max_length=80, blank=True, help_text="As named by the dyer.")
    dye = models.ForeignKey(Dye, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    jar = models.ForeignKey(Jar, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    bottle = models.ForeignKey(StockBottle, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    mix = models.ForeignKey(Mix, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    auxiliary = models.ForeignKey(
        Auxiliary, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    milligrams = models.PositiveBigIntegerField(null=True, blank=True)
    microlitres = models.PositiveBigIntegerField(null=True, blank=True)
    strength_mg_per_litre = models.PositiveIntegerField(null=True, blank=True)
    strength_of_type_percent = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="The dye's, when this went in."
    )
    jar_before_milligrams = models.PositiveBigIntegerField(null=True, blank=True)
    jar_after_milligrams = models.PositiveBigIntegerField(null=True, blank=True)
    as_typed = models.CharField(max_length=200, blank=True)
    about = models.BooleanField(default=False)
    section = models.CharField(max_length=60, blank=True, help_text="Of the lay, or single skeins.")
    technique = models.CharField(max_length=16, blank=True, help_text="One of recipes.dyeing.techniques.")
    seconds = models.PositiveIntegerField(null=True, blank=True)
    millimetres = models.PositiveIntegerField(null=True, blank=True, help_text="Dipped, along the hank.")
    hanks = models.PositiveIntegerField(null=True, blank=True, help_text="Entered or taken out at this step.")
    together = models.UUIDField(
        null=True, blank=True, help_text="The same for entries that were kept for several pots at once."
    )
    centi_celsius = models.IntegerField(null=True, blank=True)
    ph_hundredths = models.PositiveIntegerField(null=True, blank=True)
    heat_on = models.BooleanField(null=True, blank=True)
    heat_level = models.CharField(max_length=20, blank=True)
    text = models.CharField(max_length=500, blank=True)
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    strikes = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="struck_by"
    )
    corrects = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )
    planned = models.ForeignKey(
        PlannedStep, on_delete=models.PROTECT, null=True, blank=True, related_name="done"
    )

    class Meta:
        verbose_name_plural = "log entries"
        indexes = [models.Index(fields=["pot", "happened_at", "id"], name="entry_in_order")]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="strike", strikes__isnull=False)
                | (~Q(kind="strike") & Q(strikes__isnull=True)),
                name="entry_strike_names_one",
            ),
            models.CheckConstraint(
                condition=~Q(kind__in=["stock", "powder", "auxiliary", "mix"])
                | Q(milligrams__gte=1)
                | Q(microlitres__gte=1)
                | ~Q(as_typed=""),
                name="entry_addition_has_amount",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} in {self.pot_id}"


class Judgement(models.Model):
    """How pieces of a lot came out, judged dry: all of them at once or some at a time."""

    class Verdict(models.TextChoices):
        MATCH = "match", "match"
        CLOSE = "close", "close: alternate skeins"
        NO_MATCH = "no", "no match"
        FIRST = "first", "nothing to match yet"

    key = models.UUIDField(unique=True)
    dye_lot = models.ForeignKey(DyeLot, on_delete=models.PROTECT, related_name="judgements")
    judged_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    verdict = models.CharField(max_length=6, choices=Verdict, blank=True)
    against = models.ForeignKey(
        DyeLot,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="The reference lot it was compared with.",
    )
    words = models.CharField(max_length=300, blank=True)
    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, null=True, related_name="+")

    def __str__(self) -> str:
        return f"{self.dye_lot_id} judged {self.judged_at:%Y-%m-%d}"


class JudgedPieces(models.Model):
    """So many pieces of a put-up with one outcome."""

    class Outcome(models.TextChoices):
        GOOD = DyedYarn.Grade.GOOD, "good"
        SECOND = DyedYarn.Grade.SECOND, "second"
        REDYE = DyedYarn.Grade.REDYE, "to redye"
        SAMPLE = DyedYarn.Grade.SAMPLE, "sample"
        BIN = "bin", "bin"

    judgement = models.ForeignKey(Judgement, on_delete=models.PROTECT, related_name="counts")
    put_up = models.ForeignKey(PutUp, on_delete=models.PROTECT, related_name="+")
    outcome = models.CharField(max_length=10, choices=Outcome)
    pieces = models.PositiveIntegerField()
    load = models.ForeignKey(
        PotLoad,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="judged",
        help_text="The line of the pot they came from, where that was told.",
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["judgement", "put_up", "outcome"],
                condition=Q(load__isnull=True),
                name="judged_outcome_once",
            ),
            models.UniqueConstraint(
                fields=["judgement", "load", "outcome"],
                condition=Q(load__isnull=False),
                name="judged_outcome_once_a_load",
            ),
            models.CheckConstraint(condition=Q(pieces__gte=1), name="judged_pieces_above_zero"),
        ]

    def __str__(self) -> str:
        return f"{self.pieces} {self.outcome}"


class ReferenceChoice(models.Model):
    """Which lot is the one to repeat, for a colourway on a base. The newest choice holds; older ones stay readable."""

    colourway = models.ForeignKey(Colourway, on_delete=models.PROTECT, related_name="reference_choices")
    base = models.ForeignKey(Base, on_delete=models.PROTECT, related_name="+")
    dye_lot = models.ForeignKey(DyeLot, on_delete=models.PROTECT, related_name="reference_choices")
    chosen_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["colourway", "base", "-id"], name="reference_newest")]

    def __str__(self) -> str:
        return f"{self.dye_lot_id} for {self.colourway_id}"


class WayOrigin(models.Model):
    """The pot a way of dyeing was learned from."""

    way = models.OneToOneField(WayOfDyeing, on_delete=models.PROTECT, related_name="origin")
    pot = models.ForeignKey(Pot, on_delete=models.PROTECT, related_name="ways_learned")

    def __str__(self) -> str:
        return f"{self.way_id} from {self.pot_id}"


class DayClosed(models.Model):
    """The end of a dye day: somebody went through every pot whose heat was last recorded on."""

    key = models.UUIDField(unique=True)
    closed_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "days closed"

    def __str__(self) -> str:
        return f"{self.closed_at:%Y-%m-%d}"
