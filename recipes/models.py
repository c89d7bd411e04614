"""What colour is made from and how it is written down: yarn, dyes, stocks, colourways and ways of dyeing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone

from dyehouse.ledger.models import Item, Lot
from recipes.dyeing.fibres import FIBRES

if TYPE_CHECKING:
    from dyehouse.studio.models import User

hex_colour = RegexValidator(
    r"^#[0-9A-Fa-f]{6}$", "Write a colour as # and six of 0-9 A-F, for example #8A3B52."
)


class Base(models.Model):
    """An undyed yarn line. A name and one put-up are enough to work with."""

    class Category(models.IntegerChoices):
        LACE = 0, "0 Lace"
        SUPER_FINE = 1, "1 Super Fine (fingering, sock)"
        FINE = 2, "2 Fine (sport)"
        LIGHT = 3, "3 Light (DK)"
        MEDIUM = 4, "4 Medium (worsted, aran)"
        BULKY = 5, "5 Bulky"
        SUPER_BULKY = 6, "6 Super Bulky"
        JUMBO = 7, "7 Jumbo"

    name = models.CharField(max_length=80, unique=True)
    metres_per_100g = models.PositiveIntegerField(
        null=True, blank=True, validators=[MinValueValidator(10), MaxValueValidator(3000)]
    )
    category = models.PositiveSmallIntegerField(
        "yarn weight category", null=True, blank=True, choices=Category
    )
    superwash = models.BooleanField(null=True, blank=True)
    hank_circumference_millimetres = models.PositiveIntegerField(
        null=True, blank=True, validators=[MinValueValidator(200), MaxValueValidator(5000)]
    )
    spun_in = models.CharField(max_length=2, blank=True, help_text="Two letters, as in ISO 3166-1.")
    retired_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name


class BaseFibre(models.Model):
    """One fibre of a base, in tenths of a percent of its weight; a base's fibres sum to 1000 or are not known."""

    base = models.ForeignKey(Base, on_delete=models.CASCADE, related_name="fibres")
    fibre = models.CharField(max_length=20, choices=[(fibre.slug, fibre.name) for fibre in FIBRES])
    per_mille = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(1000)])

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["base", "fibre"], name="base_fibre_once"),
            models.CheckConstraint(
                condition=Q(per_mille__gte=1, per_mille__lte=1000), name="base_fibre_share"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.per_mille / 10:g} % {self.get_fibre_display()}"


class PutUp(models.Model):
    """A base at a weight and length per piece."""

    base = models.ForeignKey(Base, on_delete=models.PROTECT, related_name="put_ups")
    name = models.CharField(max_length=40, blank=True, help_text="skein, half skein, mini …")
    nominal_milligrams = models.PositiveBigIntegerField(
        validators=[MinValueValidator(1_000), MaxValueValidator(5_000_000)]
    )
    metres = models.PositiveIntegerField(null=True, blank=True)
    item = models.OneToOneField(Item, on_delete=models.PROTECT, related_name="put_up")
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["base", "nominal_milligrams"], name="put_up_once_a_base"),
            models.CheckConstraint(condition=Q(nominal_milligrams__gte=1000), name="put_up_weighs_something"),
        ]

    def __str__(self) -> str:
        return f"{self.base} {self.nominal_milligrams / 1000:g} g"


class MillLot(models.Model):
    """One lot of a base as the mill delivered it; each base has one for yarn whose lot nobody knows."""

    base = models.ForeignKey(Base, on_delete=models.PROTECT, related_name="mill_lots")
    number = models.CharField(max_length=60)
    unknown = models.BooleanField(default=False)
    arrived_on = models.DateField(null=True, blank=True)
    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="mill_lot")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["base", "number"], name="mill_lot_once_a_base"),
            models.UniqueConstraint(fields=["base"], condition=Q(unknown=True), name="mill_lot_one_unknown"),
        ]

    def __str__(self) -> str:
        return self.number


class Dye(models.Model):
    """A dye powder. A name is enough; what is not known about it is said to be unknown."""

    class Class(models.TextChoices):
        ACID_UNKNOWN = "acid_unknown", "acid, class unknown"
        LEVELLING = "levelling", "levelling acid"
        FAST_ACID = "fast_acid", "fast acid"
        MILLING = "milling", "milling acid"
        SUPER_MILLING = "super_milling", "super-milling acid"
        PREMETALLISED = "premetallised_1_2", "1:2 premetallised"
        MIXED = "mixed_1_2_reactive", "mixed 1:2 + reactive"
        COLD_REACTIVE = "cold_reactive", "cold reactive (dichlorotriazine)"
        OTHER_REACTIVE = "other_reactive", "other reactive"
        DIRECT = "direct", "direct"
        OTHER = "other", "other"

    name = models.CharField(max_length=60, unique=True)
    dye_class = models.CharField("class", max_length=20, choices=Class, default=Class.ACID_UNKNOWN)
    ci_name = models.CharField("C.I. generic name", max_length=60, blank=True)
    strength_of_type_percent = models.PositiveSmallIntegerField(
        "strength of type, %", default=100, validators=[MinValueValidator(1), MaxValueValidator(1000)]
    )
    strongest_stock_mg_per_litre = models.PositiveIntegerField(
        "strongest stock that stays dissolved",
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(500_000)],
        help_text="Milligrams a litre; empty is not known.",
    )
    sds_url = models.URLField("safety data sheet", blank=True)
    chip = models.CharField("colour on its button", max_length=7, blank=True, validators=[hex_colour])
    item = models.OneToOneField(Item, on_delete=models.PROTECT, related_name="dye")
    stock_item = models.OneToOneField(Item, on_delete=models.PROTECT, related_name="stock_of")
    retired_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name


class Jar(models.Model):
    """A jar of one dye: its lot, and its weights so that counting it is one weighing."""

    dye = models.ForeignKey(Dye, on_delete=models.PROTECT, related_name="jars")
    label = models.CharField("lot on the jar", max_length=60)
    gross_milligrams = models.PositiveBigIntegerField(
        null=True, blank=True, help_text="Jar and dye, when it came."
    )
    tare_milligrams = models.PositiveBigIntegerField(null=True, blank=True, help_text="The empty jar.")
    opened_on = models.DateField(null=True, blank=True)
    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="jar")
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["dye", "label"], name="jar_once_a_dye")]

    def __str__(self) -> str:
        return f"{self.dye} {self.label}"


class StockBottle(models.Model):
    """A bottle of stock solution: strength in milligrams a litre (1 % w/v is 10,000), when made and from which jar."""

    dye = models.ForeignKey(Dye, on_delete=models.PROTECT, related_name="bottles")
    jar = models.ForeignKey(Jar, on_delete=models.PROTECT, null=True, blank=True, related_name="bottles")
    strength_mg_per_litre = models.PositiveIntegerField(
        validators=[MinValueValidator(1), MaxValueValidator(500_000)]
    )
    made_at = models.DateTimeField()
    made_microlitres = models.PositiveBigIntegerField()
    best_before = models.DateField(null=True, blank=True)
    in_fridge = models.BooleanField("kept in the fridge", default=False)
    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="bottle")
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(strength_mg_per_litre__gte=1), name="bottle_has_strength")
        ]

    def __str__(self) -> str:
        return f"{self.dye} {self.strength_mg_per_litre / 10000:g} %"


class Mix(models.Model):
    """Several dyes made up together to one volume: a jug for some pots, or a bottle kept for longer.

    It never changes: what it holds is known from its parts, what is left of it from the ledger.
    """

    code = models.CharField(max_length=12, unique=True)
    name = models.CharField(max_length=60, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    made_microlitres = models.PositiveBigIntegerField()
    best_before = models.DateField(null=True, blank=True)
    item = models.OneToOneField(Item, on_delete=models.PROTECT, related_name="mix")
    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="mix")
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "mixes"
        constraints = [
            models.CheckConstraint(condition=Q(made_microlitres__gte=1), name="mix_has_volume"),
        ]

    def __str__(self) -> str:
        return self.name or self.code


class MixPart(models.Model):
    """One dye of a mix: weighed from a jar, or poured from a bottle of stock. Micrograms, so that pale stays exact."""

    mix = models.ForeignKey(Mix, on_delete=models.PROTECT, related_name="parts")
    number = models.PositiveIntegerField()
    dye = models.ForeignKey(Dye, on_delete=models.PROTECT, related_name="+")
    jar = models.ForeignKey(Jar, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    bottle = models.ForeignKey(StockBottle, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    micrograms = models.PositiveBigIntegerField()
    poured_microlitres = models.PositiveBigIntegerField(
        null=True, blank=True, help_text="Where it came from a bottle."
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["mix", "number"], name="mix_part_once"),
            models.CheckConstraint(condition=Q(micrograms__gte=1), name="mix_part_weighs_something"),
        ]

    def __str__(self) -> str:
        return f"{self.dye_id} in {self.mix_id}"


class Auxiliary(models.Model):
    """What goes into the bath beside dye: acid, salt, leveller, wetting agent."""

    class Role(models.TextChoices):
        ACID = "acid", "acid"
        ACID_DONOR = "acid_donor", "acid donor (ammonium sulphate)"
        SALT = "salt", "salt (Glauber's or common)"
        LEVELLER = "leveller", "levelling or resist agent"
        WETTING = "wetting", "wetting agent"
        ALKALI = "alkali", "alkali"
        BUFFER = "buffer", "buffer"
        OTHER = "other", "other"

    class Form(models.TextChoices):
        LIQUID = "liquid", "Liquid, measured in millilitres"
        POWDER = "powder", "Powder or crystals, weighed in grams"

    name = models.CharField(max_length=60, unique=True)
    role = models.CharField(max_length=12, choices=Role, default=Role.OTHER)
    form = models.CharField(max_length=8, choices=Form)
    strength_hundredths_percent = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(10_000)], help_text="500 for vinegar of 5 %."
    )
    sds_url = models.URLField("safety data sheet", blank=True)
    item = models.OneToOneField(Item, on_delete=models.PROTECT, related_name="auxiliary")
    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="auxiliary")
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "auxiliaries"

    def __str__(self) -> str:
        return self.name

    @property
    def is_liquid(self) -> bool:
        return self.form == self.Form.LIQUID


class Colourway(models.Model):
    """A colour somebody may want again. Its name may stay empty; its short code never is."""

    code = models.CharField(max_length=12, unique=True)
    name = models.CharField(max_length=80, blank=True)
    secret_until = models.DateTimeField(null=True, blank=True)
    chips = models.JSONField(
        default=list, blank=True, help_text="Hex colours that stand for it until there is a photo."
    )
    families = models.JSONField(
        default=list, blank=True, help_text="Colour families, from recipes.dyeing.families."
    )
    snip = models.CharField("where its snip is", max_length=120, blank=True)
    notes = models.TextField(blank=True)
    made_at = models.DateTimeField()
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["name"], condition=~Q(name=""), name="colourway_name_once"),
        ]

    def __str__(self) -> str:
        return self.name or self.code

    @property
    def is_secret(self) -> bool:
        return self.secret_until is not None and self.secret_until > timezone.now()

    def shown_name(self, user: User | None) -> str:
        """Its name; before its day, the code to everybody but the owner (and on open paper, to all: pass None)."""
        if self.is_secret and not (user is not None and user.is_owner):
            return self.code
        return self.name or self.code

    def may_be_seen_by(self, user: User | None) -> bool:
        """Whether its photo, chips and name may be shown."""
        return not self.is_secret or (user is not None and user.is_owner)


class DyedYarn(models.Model):
    """A colourway on a base at a put-up, by how it came out."""

    class Grade(models.TextChoices):
        UNJUDGED = "unjudged", "not yet judged"
        GOOD = "good", "good"
        SECOND = "second", "second"
        REDYE = "redye", "to redye"
        SAMPLE = "sample", "sample"

    colourway = models.ForeignKey(Colourway, on_delete=models.PROTECT, related_name="dyed")
    put_up = models.ForeignKey(PutUp, on_delete=models.PROTECT, related_name="dyed")
    grade = models.CharField(max_length=10, choices=Grade)
    item = models.OneToOneField(Item, on_delete=models.PROTECT, related_name="dyed")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["colourway", "put_up", "grade"], name="dyed_yarn_once"),
        ]

    def __str__(self) -> str:
        return f"{self.colourway} on {self.put_up}, {self.get_grade_display()}"


class WayOfDyeing(models.Model):
    """One way of dyeing a colourway on a base. It never changes; a correction is a new one that says why."""

    class Cleared(models.TextChoices):
        CLEAR = "clear", "clear"
        TINTED = "tinted", "tinted"
        COLOURED = "coloured", "coloured"

    colourway = models.ForeignKey(Colourway, on_delete=models.PROTECT, related_name="ways")
    base = models.ForeignKey(Base, on_delete=models.PROTECT, related_name="ways")
    number = models.PositiveIntegerField()
    departs_from = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrections"
    )
    why = models.CharField(max_length=300, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # What the pot it was learned from was like; None is "not known".
    dry_milligrams = models.PositiveBigIntegerField(null=True, blank=True)
    bath_microlitres = models.PositiveBigIntegerField(null=True, blank=True)
    pieces = models.PositiveIntegerField(null=True, blank=True)
    vessel_name = models.CharField(max_length=40, blank=True)
    presoak_minutes = models.PositiveIntegerField(null=True, blank=True)
    lay = models.CharField(max_length=300, blank=True)
    lay_plan = models.JSONField(
        default=dict, blank=True, help_text="Sections along the hank, as recipes.dyeing.lay writes them."
    )
    cleared = models.CharField(max_length=10, choices=Cleared, blank=True)
    cooling = models.CharField(max_length=120, blank=True)
    from_notes = models.BooleanField(default=False, help_text="Written down before; not yet dyed here.")
    noted_on = models.DateField(null=True, blank=True)
    as_written = models.TextField(blank=True, help_text="The notes' own words.")
    key = models.UUIDField(
        null=True,
        blank=True,
        unique=True,
        help_text="Of what was sent from notes, so that sending twice keeps one.",
    )

    class Meta:
        verbose_name_plural = "ways of dyeing"
        constraints = [
            models.UniqueConstraint(fields=["colourway", "base", "number"], name="way_number_once"),
            models.CheckConstraint(
                condition=Q(departs_from__isnull=True) | ~Q(why=""), name="way_says_why_it_departs"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.colourway} on {self.base}, way {self.number}"


class Rule(models.Model):
    """One step of a way of dyeing: an addition by its basis, or a reading to reach, at a minute from the start."""

    class Kind(models.TextChoices):
        DYE = "dye", "dye"
        AUXILIARY = "auxiliary", "auxiliary"
        WATER = "water", "water"
        TEMPERATURE = "temperature", "temperature"
        PH = "ph", "pH"
        HEAT = "heat", "heat"
        TECHNIQUE = "technique", "technique"
        NOTE = "note", "note"

    class Basis(models.TextChoices):
        FIBRE = "fibre", "share of dry fibre"
        BATH = "bath", "per litre of bath"
        PIECE = "piece", "per piece"
        POT = "pot", "per pot"
        READING = "reading", "to a reading"

    way = models.ForeignKey(WayOfDyeing, on_delete=models.PROTECT, related_name="rules")
    number = models.PositiveIntegerField()
    kind = models.CharField(max_length=12, choices=Kind)
    dye = models.ForeignKey(Dye, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    auxiliary = models.ForeignKey(
        Auxiliary, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    basis = models.CharField(max_length=8, choices=Basis, blank=True)
    unit = models.CharField(max_length=2, blank=True, choices=[("mg", "mg"), ("ul", "µl")])
    # Thousandths, so that a pale share of a small skein keeps its digits: micrograms or nanolitres per kilogram of dry
    # fibre, per litre, per piece or per pot. What is added to a reading keeps here what it took, by the fibre.
    thousandths = models.PositiveBigIntegerField(null=True, blank=True)
    strength_mg_per_litre = models.PositiveIntegerField(
        null=True, blank=True, help_text="Of the stock it was dosed from; empty for powder."
    )
    ph_hundredths = models.PositiveIntegerField(null=True, blank=True)
    centi_celsius = models.IntegerField(null=True, blank=True)
    heat_on = models.BooleanField(null=True, blank=True)
    as_typed = models.CharField(
        max_length=200,
        blank=True,
        help_text="A measure that is never turned into grams: a spoon, a pinch, drops.",
    )
    text = models.CharField(max_length=500, blank=True)
    technique = models.CharField(max_length=16, blank=True, help_text="One of recipes.dyeing.techniques.")
    seconds = models.PositiveIntegerField(null=True, blank=True)
    millimetres = models.PositiveIntegerField(null=True, blank=True, help_text="Dipped, along the hank.")
    hanks = models.PositiveIntegerField(null=True, blank=True, help_text="Entered or taken out at this step.")
    section = models.CharField(max_length=60, blank=True, help_text="Of the lay, or single skeins.")
    minute = models.PositiveIntegerField(
        null=True, blank=True, help_text="From the first entry of the pot it was learned from."
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["way", "number"], name="rule_number_once"),
            models.CheckConstraint(
                condition=~Q(kind="dye") | Q(dye__isnull=False), name="rule_of_dye_names_it"
            ),
            models.CheckConstraint(
                condition=~Q(kind="auxiliary") | Q(auxiliary__isnull=False), name="rule_of_auxiliary_names_it"
            ),
            models.CheckConstraint(
                condition=Q(thousandths__isnull=True) | ~Q(unit=""), name="rule_amount_has_unit"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.way} rule {self.number}"
