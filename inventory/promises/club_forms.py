"""What is asked of clubs: the club, a level and its slots, a round and its colourways, a membership."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Any

from django import forms
from django.utils import timezone

from dyehouse.studio.money import MoneyField
from dyehouse.studio.widgets import Segmented, SegmentedMany, Stepper
from inventory.kit_forms import KitChoices
from inventory.promises.clubs import MOST_PIECES, ClubFacts, RoundFacts, SlotSaid
from inventory.promises.memberships import MOST_BOXES
from inventory.promises.models import Level, Person
from recipes.models import Base, Colourway, PutUp

MOST_COLOURWAYS = 12
MOST_SLOTS = 12
OFF = {"autocomplete": "off"}
WHOLE = {"invalid": "Write a whole number.", "min_value": "Write %(limit_value)s or more."}


def _number(label: str, *, least: int, most: int, **more: Any) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        min_value=least,
        max_value=most,
        widget=Stepper(attrs={"min": least, "max": most}),
        error_messages={
            **WHOLE,
            "max_value": "Write %(limit_value)s or less.",
            "required": "Write a number.",
        },
        **more,
    )


def _date(label: str, **more: Any) -> forms.DateField:
    return forms.DateField(
        label=label,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={
            "required": "Choose the day.",
            "invalid": "Write the day as year, month and day, for example 2026-03-14.",
        },
        **more,
    )


def _words(label: str, longest: int, **more: Any) -> forms.CharField:
    return forms.CharField(label=label, max_length=longest, widget=forms.TextInput(attrs=OFF), **more)


def _text(label: str, longest: int, rows: int = 3, **more: Any) -> forms.CharField:
    widget = forms.Textarea(attrs={**OFF, "rows": rows})
    return forms.CharField(label=label, max_length=longest, widget=widget, required=False, **more)


class ClubForm(forms.Form):
    """The club as a whole."""

    name = _words("Called", 80, error_messages={"required": "Write what the club is called."})
    every_months = _number("A box every so many months", least=1, most=24, initial=1)
    most_members = _number(
        "Most memberships",
        least=1,
        most=100_000,
        required=False,
        help_text="Beyond it people wait for a place.",
    )
    exclusive_months = _number(
        "Months a club colourway is not sold otherwise", least=0, most=120, initial=0, required=False
    )
    not_again_months = _number(
        "Months before a member gets a colourway again",
        least=0,
        most=120,
        initial=12,
        required=False,
        help_text="0 lets it come again at once.",
    )
    note = _text("Note", 2000)

    @property
    def facts(self) -> ClubFacts:
        said = dict(self.cleaned_data)
        for name in ("exclusive_months", "not_again_months"):
            said[name] = said[name] or 0
        return ClubFacts(**said)


class LevelForm(forms.Form):
    """A level: its name, its price, what lies in it besides yarn."""

    name = _words("Called", 60, error_messages={"required": "Write what the level is called."})
    price_minor = MoneyField(label="Price of a box", required=False)
    extras = _text("Besides yarn", 1000, help_text="One thing a line: a stitch marker, a card.")

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        price: MoneyField = self.fields["price_minor"]  # type: ignore[assignment]
        price.currency = currency


class SlotForm(forms.Form):
    """One thing in the box: on which put-ups, how many pieces, which of the round's colourways."""

    put_ups = forms.MultipleChoiceField(
        label="On",
        required=False,
        widget=SegmentedMany,
        help_text="Where there are several, the member’s base says which.",
    )
    pieces = _number("Pieces", least=1, most=MOST_PIECES, initial=1, required=False)
    colourway_number = forms.ChoiceField(
        label="Of the round’s colourways",
        required=False,
        initial="1",
        choices=[
            *((str(number), f"colourway {number}") for number in range(1, MOST_COLOURWAYS + 1)),
            ("", "any of them"),
        ],
    )

    def __init__(self, *args: Any, put_ups: Sequence[PutUp], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._put_ups = {str(each.pk): each for each in put_ups}
        field: forms.MultipleChoiceField = self.fields["put_ups"]  # type: ignore[assignment]
        field.choices = [(pk, str(each)) for pk, each in self._put_ups.items()]

    @property
    def said(self) -> SlotSaid | None:
        """What was said; None for a row without a put-up."""
        chosen = self.cleaned_data.get("put_ups") or []
        if not chosen:
            return None
        number = self.cleaned_data.get("colourway_number") or ""
        return SlotSaid(
            [self._put_ups[pk] for pk in chosen],
            self.cleaned_data.get("pieces") or 1,
            int(number) if number else None,
        )


Slots = forms.formset_factory(SlotForm, extra=1, max_num=MOST_SLOTS)


def slots_said(rows: Iterable[forms.BaseForm]) -> list[SlotSaid]:
    """The slots that were written, in their order."""
    return [said for row in rows if isinstance(row, SlotForm) and (said := row.said) is not None]


class RoundForm(forms.Form):
    """A round: its days, what everybody may read of it, what is the owner's alone, spares, the card in the box."""

    called = _words(
        "Called",
        60,
        help_text="What everybody may read, such as the month.",
        error_messages={"required": "Write what everybody may call it, such as its month."},
    )
    theme = _words("Theme", 120, required=False, help_text="Yours alone until the secret is out.")
    sign_up_opens = _date("Sign-ups open", required=False)
    sign_up_closes = _date("Sign-ups close", required=False)
    payment_due = _date("Payment is due", required=False)
    ships_on = _date("Ships on")
    secret_until_day = _date(
        "Secret until",
        required=False,
        help_text="Until that day its colourways go by their code to everybody but you.",
    )
    names_on_sealed_paper = forms.BooleanField(
        label="Labels and cards inside the parcel carry the names", required=False
    )
    spares_percent = _number("Spares, percent", least=0, most=100, initial=5, required=False)
    spares_until = _date("Spares are kept until", required=False, help_text="Until then they are not sold.")
    insert_words = _text("Words for the card in the box", 4000, rows=5)

    def facts(self, colourways: Sequence[Colourway]) -> RoundFacts:
        """What was said, with the colourways of the rows below."""
        said = dict(self.cleaned_data)
        day = said.pop("secret_until_day")
        said["secret_until"] = timezone.make_aware(dt.datetime.combine(day, dt.time())) if day else None
        said["spares_percent"] = said["spares_percent"] or 0
        return RoundFacts(colourways=colourways, **said)


class RoundColourwayForm(forms.Form):
    """One colourway of a round: one that is there, or the name of a new one. A row left empty is none."""

    colourway = forms.ChoiceField(label="Colourway", required=False)
    new_name = _words("or a new one called", 80, required=False)

    def __init__(self, *args: Any, choices: KitChoices, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: forms.ChoiceField = self.fields["colourway"]  # type: ignore[assignment]
        field.choices = [("", "none"), *((str(pk), name) for pk, name in choices.colourways)]

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        if said.get("colourway") and said.get("new_name"):
            self.add_error("new_name", "Choose one that is there, or name a new one, not both.")
        return said


RoundColourways = forms.formset_factory(RoundColourwayForm, extra=1, max_num=MOST_COLOURWAYS)


class MembershipForm(forms.Form):
    """A membership: who gets it and who pays, at which level, on which base, how many boxes."""

    receiver = _words(
        "Who gets it",
        254,
        help_text="The name, e-mail address or code of somebody who is written down.",
        error_messages={"required": "Write who gets the boxes."},
    )
    payer = _words(
        "Who pays", 254, required=False, help_text="Empty: the same. Somebody else makes it a gift."
    )
    gift_note = _text("Words for the gift", 500)
    level = forms.ChoiceField(
        label="Level", widget=Segmented, error_messages={"required": "Choose the level."}
    )
    base = forms.ChoiceField(label="Base", required=False)
    count = _number("Boxes a round", least=1, most=MOST_BOXES, initial=1)
    doubles = forms.ChoiceField(
        label="Two of one colourway",
        required=False,
        choices=[("", "as the person wishes"), *Person.Doubles.choices],
        widget=Segmented,
    )
    prepaid_rounds = _number(
        "Prepaid rounds",
        least=1,
        most=120,
        required=False,
        help_text="It ends after so many. Empty: it goes on until it is ended.",
    )
    reference = _words("Order it came by", 60, required=False)

    def __init__(self, *args: Any, levels: Sequence[Level], bases: Sequence[Base], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._levels = {str(each.pk): each for each in levels}
        self._bases = {str(each.pk): each for each in bases}
        level: forms.ChoiceField = self.fields["level"]  # type: ignore[assignment]
        level.choices = [(pk, each.name) for pk, each in self._levels.items()]
        if len(self._levels) == 1:
            level.initial = next(iter(self._levels))
        base: forms.ChoiceField = self.fields["base"]  # type: ignore[assignment]
        base.choices = [("", "as the level has it"), *((pk, each.name) for pk, each in self._bases.items())]

    @property
    def chosen_level(self) -> Level:
        return self._levels[self.cleaned_data["level"]]

    @property
    def chosen_base(self) -> Base | None:
        return self._bases.get(self.cleaned_data["base"])


class MembershipChangeForm(MembershipForm):
    """The same for a membership that is there, with why, and whether a frozen round follows."""

    why = _words("Why", 300, required=False, help_text="Names nobody: it is kept for good.")
    also_in = forms.BooleanField(label="Its boxes in the frozen round too", required=False, initial=True)
