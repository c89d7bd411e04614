"""Who works here and what the studio has: people, vessels, scales and cylinders, units, water, short codes."""

from __future__ import annotations

from django.contrib.auth.models import AbstractUser
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q


class User(AbstractUser):
    """Somebody who signs in. The owner sees everything; a helper sees no prices, no secrets and no settings."""

    class Role(models.TextChoices):
        OWNER = "owner", "Owner"
        HELPER = "helper", "Helper"

    first_name = None  # type: ignore[assignment]
    last_name = None  # type: ignore[assignment]
    called = models.CharField(
        "called", max_length=60, blank=True, help_text="The name shown beside what was done."
    )
    role = models.CharField(max_length=10, choices=Role, default=Role.HELPER)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(role__in=["owner", "helper"]), name="user_role_is_known"),
        ]

    def __str__(self) -> str:
        return self.called or self.username

    @property
    def is_owner(self) -> bool:
        return self.role == self.Role.OWNER


class Studio(models.Model):
    """The one studio that this house belongs to."""

    class Units(models.TextChoices):
        METRIC = "metric", "Grams, metres, litres, °C"
        US = "us", "Ounces, yards, gallons, °F beside the metric"

    name = models.CharField(max_length=80, blank=True)
    units = models.CharField(max_length=10, choices=Units, default=Units.METRIC)
    currency = models.CharField(max_length=3, default="EUR", help_text="Three letters, as in ISO 4217.")
    country = models.CharField(max_length=2, blank=True, help_text="Two letters, as in ISO 3166-1.")
    time_zone = models.CharField(max_length=64, default="UTC")
    label_sheet = models.CharField(max_length=40, default="a4-3x8")
    postal_address = models.TextField(blank=True, help_text="As it stands on labels, one line under another.")
    email = models.EmailField(blank=True, help_text="As it stands on labels.")
    identification_number = models.CharField(
        max_length=40,
        blank=True,
        help_text="A registered number that stands for the maker, for example RN 12345.",
    )
    responsible_in_eu = models.TextField(
        blank=True, help_text="Who answers in the EU for a maker outside it: name, address, e-mail."
    )
    water_hardness_mg_per_litre = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(5000)], help_text="As CaCO₃."
    )
    water_ph_hundredths = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(1400)]
    )
    water_alkalinity_mg_per_litre = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(5000)], help_text="As CaCO₃."
    )
    water_measured_on = models.DateField(null=True, blank=True)
    set_up_at = models.DateTimeField(
        null=True, blank=True, help_text="Empty until the first minute's questions are answered."
    )

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="studio_only_one")]

    def __str__(self) -> str:
        return self.name or "The studio"

    @classmethod
    def current(cls) -> Studio:
        """The studio, made with its defaults on first use."""
        studio, _ = cls.objects.get_or_create(pk=1)
        return studio


class Vessel(models.Model):
    """A pot, pan or steamer kept for dyeing."""

    class Kind(models.TextChoices):
        POT = "pot", "Pot"
        PAN = "pan", "Pan"
        STEAMER = "steamer", "Steamer"

    class HobKind(models.TextChoices):
        ELECTRIC = "electric", "Electric (coil or glass)"
        INDUCTION = "induction", "Induction"
        GAS = "gas", "Gas"

    name = models.CharField(max_length=40, unique=True)
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.POT)
    working_millilitres = models.PositiveIntegerField(
        "litres to the working mark", validators=[MinValueValidator(100), MaxValueValidator(500_000)]
    )
    hob_watts = models.PositiveIntegerField(null=True, blank=True, validators=[MaxValueValidator(30_000)])
    hob_kind = models.CharField(max_length=10, blank=True, choices=HobKind, help_text="Empty is not known.")
    retired_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name


class Measure(models.Model):
    """A scale or a cylinder and the smallest step it shows."""

    class Kind(models.TextChoices):
        SCALE = "scale", "Scale"
        CYLINDER = "cylinder", "Cylinder or syringe"

    name = models.CharField(max_length=40)
    kind = models.CharField(max_length=10, choices=Kind)
    step = models.PositiveIntegerField(
        help_text="Milligrams for a scale, microlitres for a cylinder.", validators=[MinValueValidator(1)]
    )
    most = models.PositiveBigIntegerField(
        null=True, blank=True, help_text="The most it takes at once, in the same unit."
    )
    retired_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name


class ShortCode(models.Model):
    """A code that was given out. Taking one is inserting it, so that no two things ever share one."""

    code = models.CharField(primary_key=True, max_length=12)

    def __str__(self) -> str:
        return self.code


class PairedPhone(models.Model):
    """A phone that stays signed in for a person until its day or until it is revoked. Made with a code shown once."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="phones")
    name = models.CharField(max_length=60, blank=True)
    code_digest = models.CharField(
        max_length=64, unique=True, help_text="Of the code in the QR; it works once."
    )
    code_until = models.DateTimeField()
    paired_at = models.DateTimeField(null=True, blank=True)
    signed_in_until = models.DateTimeField(null=True, blank=True)
    session_key = models.CharField(max_length=40, blank=True, db_index=True)
    seen_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name or f"phone of {self.user_id}"


class SignInAttempt(models.Model):
    """A failed try at signing in, kept a short while so that guessing is slow."""

    username = models.CharField(max_length=150)
    address = models.GenericIPAddressField(null=True)
    at = models.DateTimeField()

    class Meta:
        indexes = [
            models.Index(fields=["username", "at"], name="attempt_username_at"),
            models.Index(fields=["address", "at"], name="attempt_address_at"),
        ]

    def __str__(self) -> str:
        return f"{self.username} at {self.at:%Y-%m-%d %H:%M}"
