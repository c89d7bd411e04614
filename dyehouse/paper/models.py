"""What was printed, so that it can be printed again and counted."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q


class PrintRun(models.Model):
    """One printing: the pieces of paper, for which lots, on which sheet, and all that is needed to print it again."""

    class Kind(models.TextChoices):
        YARN_LABELS = "yarn_labels", "yarn labels"
        WET_TAGS = "wet_tags", "wet tags"
        DYE_CARDS = "dye_cards", "dye cards"

    key = models.UUIDField(unique=True, help_text="Made with the page, so that asking twice prints one run.")
    kind = models.CharField(max_length=12, choices=Kind)
    printed_at = models.DateTimeField()
    printed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    count = models.PositiveIntegerField(help_text="Labels, tags or cards.")
    codes = models.JSONField(
        default=list, help_text="The short codes of the lots or pots, in the order printed."
    )
    sheet = models.CharField(max_length=40, blank=True, help_text="The sheet's slug; empty for cards.")
    start_at = models.PositiveIntegerField(default=1, help_text="The first label used on the first sheet.")
    offset_x_um = models.IntegerField(default=0)
    offset_y_um = models.IntegerField(default=0)
    payload = models.JSONField(default=dict, help_text="What was printed, word for word.")

    class Meta:
        indexes = [models.Index(fields=["kind", "-id"], name="print_run_newest")]
        constraints = [
            models.CheckConstraint(condition=Q(count__gte=1), name="print_run_prints_something"),
            models.CheckConstraint(condition=Q(start_at__gte=1), name="print_run_starts_on_a_label"),
        ]

    def __str__(self) -> str:
        return f"{self.count} {self.get_kind_display()} at {self.printed_at:%Y-%m-%d %H:%M}"


class PrintedCode(models.Model):
    """How many pieces of paper one run printed for one lot or pot."""

    run = models.ForeignKey(PrintRun, on_delete=models.PROTECT, related_name="printed")
    code = models.CharField(max_length=12, db_index=True)
    count = models.PositiveIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["run", "code"], name="printed_code_once_a_run")]

    def __str__(self) -> str:
        return f"{self.count} for {self.code}"
