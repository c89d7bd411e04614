"""How the studio's weeks go: its sessions, racks and drying days, lost days, what is wanted by hand, pots with a day."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from dyehouse.studio.models import Vessel
from inventory.models import Kit
from recipes.lots.models import Pot, RedyePlan
from recipes.models import Colourway, PutUp

MOST_LOADS = 40
MOST_DRYING_DAYS = 30
# Common practice, no source: overnight to three days; so two, and three in the cold months.
USUAL_DRYING_DAYS = (3, 3, 2, 2, 2, 2, 2, 2, 2, 2, 3, 3)


def usual_weekdays() -> list[int]:
    """Tuesday, Thursday and Saturday: common practice, no source, is two to three sessions a week."""
    return [1, 3, 5]


def usual_drying_days() -> list[int]:
    """Days to dry by month, January first."""
    return list(USUAL_DRYING_DAYS)


class WeekHabits(models.Model):
    """How the weeks are reckoned: one row. An empty number is not known, and then nothing is limited by it."""

    weekdays = models.JSONField(default=usual_weekdays, help_text="Days of sessions; Monday is 0.")
    own_days = models.JSONField(
        default=dict, blank=True, help_text="Loads by day (year-month-day) for days of their own."
    )
    loads_a_session = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(MOST_LOADS)],
        help_text="Empty goes by the pots of the last dye days.",
    )
    soaks_overnight = models.BooleanField(default=False)
    drying_days = models.JSONField(default=usual_drying_days, help_text="By month, January first.")
    rack_pieces = models.PositiveIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1)], help_text="Pieces that hang wet at once."
    )
    finishing_pieces = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1)],
        help_text="Pieces twisted and labelled in a session.",
    )
    spares_percent = models.PositiveSmallIntegerField(default=5, validators=[MaxValueValidator(100)])
    spares_pieces = models.PositiveSmallIntegerField(default=0, validators=[MaxValueValidator(100)])
    vessel = models.ForeignKey(
        Vessel,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="Empty takes the vessel of the pot that a way was learned from, else the largest.",
    )

    class Meta:
        verbose_name_plural = "week habits"
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="week_habits_only_one")]

    def __str__(self) -> str:
        return "How the weeks go"

    @classmethod
    def current(cls) -> WeekHabits:
        """The studio's habits; the defaults until somebody changes them."""
        return cls.objects.filter(pk=1).first() or cls(pk=1)


class VesselHolds(models.Model):
    """The most that the dyer puts into a vessel at once, where that is less or more than its litres would say."""

    vessel = models.OneToOneField(Vessel, on_delete=models.CASCADE, related_name="holds")
    most_pieces = models.PositiveSmallIntegerField(null=True, blank=True, validators=[MinValueValidator(1)])
    most_milligrams = models.PositiveBigIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1)], help_text="Dry weight."
    )

    class Meta:
        verbose_name_plural = "vessel holds"
        constraints = [
            models.CheckConstraint(
                condition=Q(most_pieces__isnull=False) | Q(most_milligrams__isnull=False),
                name="vessel_holds_something",
            ),
        ]

    def __str__(self) -> str:
        return f"what {self.vessel_id} takes"


class LostDay(models.Model):
    """A session that does not take place, or takes fewer loads. Taken back, it stays readable."""

    day = models.DateField()
    loads_left = models.PositiveSmallIntegerField(default=0)
    why = models.CharField(max_length=120, blank=True)
    said_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    taken_back_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["day"], condition=Q(taken_back_at__isnull=True), name="lost_day_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.day}"


class Wanted(models.Model):
    """So many pieces of a colourway, or kits, that the dyer wants by a day beside all that is promised."""

    key = models.UUIDField(unique=True)
    colourway = models.ForeignKey(
        Colourway, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    put_up = models.ForeignKey(PutUp, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    kit = models.ForeignKey(Kit, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    count = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    set_of = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Pieces that must be from one pot, as sets of so many."
    )
    due = models.DateField(null=True, blank=True)
    what_for = models.CharField(max_length=120, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        verbose_name_plural = "wanted"
        constraints = [
            models.CheckConstraint(condition=Q(count__gte=1), name="wanted_has_count"),
            models.CheckConstraint(
                condition=Q(kit__isnull=False, colourway__isnull=True, put_up__isnull=True)
                | Q(kit__isnull=True, colourway__isnull=False, put_up__isnull=False),
                name="wanted_is_a_kit_or_a_colourway",
            ),
            models.CheckConstraint(
                condition=Q(set_of__isnull=True) | Q(set_of__gte=2, set_of__lte=F("count")),
                name="wanted_set_is_of_several",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.count} wanted"

    @property
    def what(self) -> str:
        """What it is for, in the dyer's words, else that it is wanted by hand."""
        return self.what_for or "wanted for the shelf"


class PlanDue(models.Model):
    """By when the good pieces of a redye plan are wanted, and for what, as it stood when the pots were planned."""

    plan = models.OneToOneField(RedyePlan, on_delete=models.CASCADE, related_name="due")
    due = models.DateField(null=True, blank=True)
    what_for = models.JSONField(default=list, blank=True)

    class Meta:
        verbose_name_plural = "plans due"

    def __str__(self) -> str:
        return f"{self.plan_id} by {self.due}"


class PotDay(models.Model):
    """A planned pot that is to be dyed on this day and no other."""

    pot = models.OneToOneField(Pot, on_delete=models.CASCADE, related_name="on_day")
    day = models.DateField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"{self.pot_id} on {self.day}"
