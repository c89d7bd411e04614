"""What was printed, so that it can be printed again and counted; and what the studio prints with."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from recipes.models import Base, BaseFibre


class PrintRun(models.Model):
    """One printing: the pieces of paper, for which lots, on which sheet, and all that is needed to print it again."""

    class Kind(models.TextChoices):
        YARN_LABELS = "yarn_labels", "yarn labels"
        WET_TAGS = "wet_tags", "wet tags"
        DYE_CARDS = "dye_cards", "dye cards"
        DAY_NUMBERS = "day_numbers", "day numbers"
        SHELF_LABELS = "shelf_labels", "shelf labels"
        MIXING_LISTS = "mixing_lists", "mixing lists"
        COUNT_SHEETS = "count_sheets", "count sheets"
        SHOW_LISTS = "show_lists", "show lists"
        COLOUR_BOOK = "colour_book", "pages of the colour book"
        ADDRESS_LABELS = "address_labels", "address labels"

    key = models.UUIDField(unique=True, help_text="Made with the page, so that asking twice prints one run.")
    kind = models.CharField(max_length=20, choices=Kind)
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
    names_opened = models.BooleanField(
        default=False, help_text="The owner chose to print names that are secret: for the owner's eyes."
    )
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


class OwnSheet(models.Model):
    """A label sheet or roll that the studio measured itself, in micrometres. A run keeps the sheet it was printed on."""

    name = models.CharField(max_length=60, unique=True)
    width_um = models.PositiveIntegerField()
    height_um = models.PositiveIntegerField()
    left_um = models.PositiveIntegerField()
    top_um = models.PositiveIntegerField()
    columns = models.PositiveSmallIntegerField()
    rows = models.PositiveSmallIntegerField()
    label_width_um = models.PositiveIntegerField()
    label_height_um = models.PositiveIntegerField()
    pitch_x_um = models.PositiveIntegerField(help_text="From the left edge of a label to that of the next.")
    pitch_y_um = models.PositiveIntegerField(help_text="From the top edge of a label to that of the next.")
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    columns__gte=1, rows__gte=1, label_width_um__gte=10_000, label_height_um__gte=10_000
                ),
                name="own_sheet_has_labels",
            ),
            models.CheckConstraint(
                condition=Q(pitch_x_um__gte=F("label_width_um"), pitch_y_um__gte=F("label_height_um")),
                name="own_sheet_labels_do_not_overlap",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class PrinterOffset(models.Model):
    """How far the studio's printer is out on one sheet: everything is printed so much further right and down."""

    sheet = models.CharField(max_length=40, unique=True, help_text="The sheet's slug.")
    x_um = models.IntegerField(validators=[MinValueValidator(-10_000), MaxValueValidator(10_000)])
    y_um = models.IntegerField(validators=[MinValueValidator(-10_000), MaxValueValidator(10_000)])

    def __str__(self) -> str:
        return f"{self.sheet}: {self.x_um} right, {self.y_um} down"


class LabelDesign(models.Model):
    """A label the studio chose: its shape and what stands on it."""

    class Shape(models.TextChoices):
        TAG = "tag", "Tag"
        BAND = "band", "Band"
        MINI = "mini", "Small sticker"

    name = models.CharField(max_length=40, unique=True)
    shape = models.CharField(max_length=10, choices=Shape, default=Shape.TAG)
    leaves_out = models.JSONField(
        default=list, blank=True, help_text="The parts of a label that do not stand on it."
    )
    code_kind = models.CharField(
        max_length=10,
        choices=[("qr", "QR code"), ("code128", "Bar code"), ("", "none")],
        default="qr",
        blank=True,
    )
    with_picture = models.BooleanField(default=False)
    sheet = models.CharField(max_length=40, blank=True, help_text="The sheet it is usually printed on.")
    retired_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name


class LabelledFibre(models.Model):
    """How labels say one fibre of a base, where the law leaves a choice. Without a row it stands by its name."""

    class How(models.TextChoices):
        NAMED = "named", "by its name"
        FUNCTION = "function", "by its name even below 5 %, since it does something (stretch)"
        OTHER = "other", "with the other fibres, since its share is hard to state"
        ORNAMENT = "ornament", "left out, as decoration that can be seen"
        TRACE = "trace", "left out, as traces that could not be avoided (up to 2 %)"
        TRACE_CARDED = "trace_carded", "left out, as such traces in carded yarn (up to 5 %)"

    base = models.ForeignKey(Base, on_delete=models.CASCADE, related_name="labelled_fibres")
    fibre = models.CharField(max_length=20, choices=BaseFibre._meta.get_field("fibre").choices)
    how = models.CharField(max_length=12, choices=How, default=How.NAMED)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["base", "fibre"], name="labelled_fibre_once")]

    def __str__(self) -> str:
        return f"{self.fibre}: {self.how}"


class PrintJob(models.Model):
    """A printing too long for a page to wait for: made label by label by the worker, kept as far as it got."""

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        WORKING = "working", "working"
        DONE = "done", "done"
        CANCELLED = "cancelled", "cancelled"
        FAILED = "failed", "failed"

    key = models.UUIDField(unique=True)
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    beat_at = models.DateTimeField(help_text="When the worker last did something for it.")
    turn = models.UUIDField(
        null=True, blank=True, help_text="Whose turn it is: a worker that was left behind stops."
    )
    count = models.PositiveIntegerField(help_text="Labels.")
    distinct = models.PositiveIntegerField(help_text="Labels that differ.")
    drawn = models.PositiveIntegerField(default=0, help_text="Labels that differ and are drawn.")
    run_of = models.JSONField(help_text="What `record_run` is told once it is done.")
    names_opened = models.BooleanField(default=False)
    file = models.CharField(max_length=200, blank=True, help_text="The sheets, in the folder of made paper.")
    why = models.CharField(max_length=300, blank=True, help_text="Why it failed.")
    run = models.OneToOneField(PrintRun, on_delete=models.PROTECT, null=True, blank=True, related_name="job")

    def __str__(self) -> str:
        return f"{self.count} labels, {self.state}"
