"""People: who is promised something, who pays for it, and where it goes."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q


class Person(models.Model):
    """Somebody who is promised something, gives it, or a shop that buys at wholesale.

    One e-mail address is one person. After erasing, the row stays under its number alone, so that what was sold still
    adds up.
    """

    class Kind(models.TextChoices):
        PERSON = "person", "person"
        SHOP = "shop", "yarn shop"

    class Doubles(models.TextChoices):
        SAME = "same", "from the same pot"
        DIFFERENT = "different", "from different pots"

    code = models.CharField(max_length=12, unique=True, help_text="Stands for the person on open paper.")
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.PERSON)
    name = models.CharField(max_length=120, blank=True)
    email = models.CharField(max_length=254, blank=True, help_text="In lower case, as it is compared.")
    phone = models.CharField(max_length=40, blank=True)
    company = models.CharField(max_length=120, blank=True)
    street = models.TextField(blank=True, help_text="One line under another.")
    city_area = models.CharField(max_length=80, blank=True)
    city = models.CharField(max_length=80, blank=True)
    country_area = models.CharField(max_length=80, blank=True)
    postcode = models.CharField(max_length=20, blank=True)
    sorting_code = models.CharField(max_length=20, blank=True)
    country = models.CharField(max_length=2, blank=True, help_text="Two letters, as in ISO 3166-1.")
    likes_families = models.JSONField(default=list, blank=True, help_text="Colour families.")
    avoids_families = models.JSONField(default=list, blank=True, help_text="Colour families.")
    avoids_fibres = models.JSONField(default=list, blank=True, help_text="Slugs of recipes.dyeing.fibres.")
    doubles = models.CharField(max_length=10, choices=Doubles, blank=True)
    ships_apart = models.BooleanField(
        default=False, help_text="Each promise in a parcel of its own; else all that are ready together."
    )
    note = models.CharField(max_length=500, blank=True)
    made_at = models.DateTimeField()
    merged_into = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="merged"
    )
    erased_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "people"
        indexes = [models.Index(fields=["name", "postcode"], name="person_name_postcode")]
        constraints = [
            models.UniqueConstraint(fields=["email"], condition=~Q(email=""), name="person_email_once"),
            models.CheckConstraint(
                condition=Q(erased_at__isnull=True)
                | Q(name="", email="", phone="", company="", street="", city="", postcode="", note=""),
                name="person_erased_is_empty",
            ),
            models.CheckConstraint(
                condition=Q(erased_at__isnull=False) | ~Q(name="") | ~Q(email=""),
                name="person_has_name_or_email",
            ),
        ]

    def __str__(self) -> str:
        return self.name or self.email or self.code


class DifferentPeople(models.Model):
    """Two who look like one person and are not: somebody said so, and it is not proposed again."""

    first = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    second = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    said_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "different people"
        constraints = [
            models.UniqueConstraint(fields=["first", "second"], name="different_people_once"),
            models.CheckConstraint(
                condition=Q(first__lt=models.F("second")), name="different_people_in_order"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.first_id} is not {self.second_id}"


class PrivacyRequest(models.Model):
    """A person asked for what is kept of them, or to be erased: when, and that it was done. Only ever added."""

    class Kind(models.TextChoices):
        EXPORT = "export", "a copy of what is kept"
        ERASE = "erase", "to be erased"

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="privacy_requests")
    kind = models.CharField(max_length=8, choices=Kind)
    done_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    kept = models.JSONField(default=list, help_text="What was kept, and the rule that asks for it.")

    def __str__(self) -> str:
        return f"{self.kind}, {self.done_at:%Y-%m-%d}"


class ErasedMark(models.Model):
    """The digest of an erased e-mail address, so that the person does not come back by a file or an old copy."""

    digest = models.CharField(max_length=64, unique=True)
    erased_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.digest[:8]
