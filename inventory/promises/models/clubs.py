"""Clubs: what a level holds, who belongs, and each round from its sign-ups to its boxes."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.promises.models.people import Person
from recipes.models import Base, Colourway, PutUp


class Club(models.Model):
    """A club whose members get a box every so many months."""

    name = models.CharField(max_length=80, unique=True)
    every_months = models.PositiveSmallIntegerField(default=1)
    most_members = models.PositiveIntegerField(null=True, blank=True, help_text="Beyond it people wait.")
    exclusive_months = models.PositiveSmallIntegerField(
        default=0, help_text="How long a club colourway is not sold otherwise."
    )
    not_again_months = models.PositiveSmallIntegerField(
        default=12, help_text="A colourway that a member had within these is not given again; 0 lets it."
    )
    note = models.TextField(blank=True)
    made_at = models.DateTimeField()
    retired_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name


class Level(models.Model):
    """What a membership can be for: its slots, its price."""

    club = models.ForeignKey(Club, on_delete=models.PROTECT, related_name="levels")
    name = models.CharField(max_length=60)
    order = models.PositiveSmallIntegerField(default=1)
    price_minor = models.PositiveIntegerField(
        null=True, blank=True, help_text="Of one box, in the studio's currency."
    )
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["club", "name"], name="level_name_once")]

    def __str__(self) -> str:
        return self.name


class LevelSlot(models.Model):
    """One thing in the box of a level: so many pieces of one colourway."""

    level = models.ForeignKey(Level, on_delete=models.PROTECT, related_name="slots")
    position = models.PositiveSmallIntegerField()
    pieces = models.PositiveSmallIntegerField(default=1)
    colourway_number = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Which of the round's colourways; empty for any of them."
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["level", "position"], name="slot_position_once"),
            models.CheckConstraint(condition=Q(pieces__gte=1), name="slot_has_pieces"),
        ]

    def __str__(self) -> str:
        return f"{self.position} of {self.level}"


class SlotPutUp(models.Model):
    """A put-up that a slot comes in. Where there are several, the member's base decides."""

    slot = models.ForeignKey(LevelSlot, on_delete=models.CASCADE, related_name="put_ups")
    put_up = models.ForeignKey(PutUp, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["slot", "put_up"], name="slot_put_up_once")]

    def __str__(self) -> str:
        return f"{self.put_up_id} in {self.slot_id}"


class LevelExtra(models.Model):
    """What lies in a level's box besides yarn: a stitch marker, a card."""

    level = models.ForeignKey(Level, on_delete=models.CASCADE, related_name="extras")
    words = models.CharField(max_length=80)

    def __str__(self) -> str:
        return self.words


class Round(models.Model):
    """One round of a club: sign-ups, payment, the day it ships. Frozen, its numbers move only by recorded changes."""

    club = models.ForeignKey(Club, on_delete=models.PROTECT, related_name="rounds")
    number = models.PositiveIntegerField()
    called = models.CharField(max_length=60, help_text="What everybody may read: a month, not the theme.")
    theme = models.CharField(
        max_length=120, blank=True, help_text="The owner's alone until the secret is out."
    )
    sign_up_opens = models.DateField(null=True, blank=True)
    sign_up_closes = models.DateField(null=True, blank=True)
    payment_due = models.DateField(null=True, blank=True)
    ships_on = models.DateField()
    secret_until = models.DateTimeField(null=True, blank=True)
    names_on_sealed_paper = models.BooleanField(
        default=False, help_text="Labels and inserts inside the parcel carry the colourway's name."
    )
    insert_words = models.TextField(blank=True, help_text="For the card in the box.")
    spares_percent = models.PositiveSmallIntegerField(default=5)
    spares_until = models.DateField(null=True, blank=True, help_text="Until then spares are not sold.")
    frozen_at = models.DateTimeField(null=True, blank=True)
    frozen_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    frozen_numbers = models.JSONField(
        default=dict,
        blank=True,
        help_text="What was counted when it was frozen: boxes, and pieces by put-up and colourway (ids).",
    )

    class Meta:
        constraints = [models.UniqueConstraint(fields=["club", "number"], name="round_number_once")]

    def __str__(self) -> str:
        return f"{self.club}, {self.called}"


class RoundColourway(models.Model):
    """A colourway of a round, by its number in it."""

    round = models.ForeignKey(Round, on_delete=models.CASCADE, related_name="colourways")
    number = models.PositiveSmallIntegerField()
    colourway = models.ForeignKey(Colourway, on_delete=models.PROTECT, related_name="rounds")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["round", "number"], name="round_colourway_number_once"),
            models.UniqueConstraint(fields=["round", "colourway"], name="round_colourway_once"),
        ]

    def __str__(self) -> str:
        return f"{self.number} of {self.round_id}"


class Membership(models.Model):
    """Somebody belongs to a club at a level. What it is now; how it came to be stands in its changes."""

    class State(models.TextChoices):
        WAITING = "waiting", "on the waiting list"
        ACTIVE = "active", "active"
        PAUSED = "paused", "paused"
        ENDED = "ended", "ended"

    club = models.ForeignKey(Club, on_delete=models.PROTECT, related_name="memberships")
    level = models.ForeignKey(Level, on_delete=models.PROTECT, related_name="memberships")
    base = models.ForeignKey(Base, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    count = models.PositiveSmallIntegerField(default=1, help_text="Boxes each round: doubles are two.")
    payer = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="pays_for")
    receiver = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="memberships")
    gift_note = models.CharField(max_length=500, blank=True)
    doubles = models.CharField(
        max_length=10, choices=Person.Doubles, blank=True, help_text="Else the person's own wish."
    )
    state = models.CharField(max_length=8, choices=State, default=State.ACTIVE)
    signed_up_at = models.DateTimeField()
    from_round = models.PositiveIntegerField(help_text="The number of the first round it is for.")
    prepaid_rounds = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="It ends after so many boxes; empty goes on until it is ended."
    )
    reference = models.CharField(max_length=60, blank=True, help_text="The order it came by.")
    paid_at_sign_up = models.CharField(
        max_length=10,
        blank=True,
        help_text="How the payment stood at the sign-up; the first box begins with it.",
    )

    class Meta:
        indexes = [models.Index(fields=["club", "state"], name="membership_club_state")]
        constraints = [
            models.CheckConstraint(condition=Q(count__gte=1), name="membership_has_boxes"),
            models.CheckConstraint(
                condition=Q(prepaid_rounds__isnull=True) | Q(prepaid_rounds__gte=1),
                name="membership_prepaid_some",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.level} for {self.receiver_id}"

    @property
    def is_gift(self) -> bool:
        return self.payer_id != self.receiver_id


class MembershipChange(models.Model):
    """Something that changed in a membership, or a round it skips. Only ever added; a skip is taken back by another row."""

    class Kind(models.TextChoices):
        JOINED = "joined", "joined"
        WAITS = "waits", "went on the waiting list"
        OFFERED = "offered", "got a place from the waiting list"
        SKIPS = "skips", "skips a round"
        SKIPS_NOT = "skips_not", "does not skip after all"
        PAUSED = "paused", "paused"
        RESUMED = "resumed", "goes on"
        ENDED = "ended", "ended"
        CHANGED = "changed", "changed"

    membership = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="changes")
    kind = models.CharField(max_length=10, choices=Kind)
    round_number = models.PositiveIntegerField(null=True, blank=True)
    before = models.JSONField(
        default=dict, blank=True, help_text="Levels, bases and numbers by id; nothing personal."
    )
    after = models.JSONField(default=dict, blank=True)
    why = models.CharField(max_length=300, blank=True, help_text="Names nobody.")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"{self.kind}, {self.at:%Y-%m-%d}"


class RoundChange(models.Model):
    """What changed in a round after it was frozen: one box more, one less, another base. Only ever added."""

    class Kind(models.TextChoices):
        LATE = "late", "joined late"
        WITHDRAWN = "withdrawn", "withdrawn"
        BACK = "back", "taken in again"
        CHANGED = "changed", "changed"

    round = models.ForeignKey(Round, on_delete=models.PROTECT, related_name="changes")
    box = models.ForeignKey("promises.Box", on_delete=models.PROTECT, related_name="round_changes")
    kind = models.CharField(max_length=10, choices=Kind)
    before = models.JSONField(
        default=dict, blank=True, help_text="Put-ups and pieces by id; nothing personal."
    )
    after = models.JSONField(default=dict, blank=True)
    why = models.CharField(max_length=300, blank=True, help_text="Names nobody.")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"{self.kind}, {self.at:%Y-%m-%d}"
