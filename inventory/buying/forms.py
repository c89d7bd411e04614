"""What is asked about suppliers, what they sell, and orders to them."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone

from dyehouse.ledger.models import Item
from dyehouse.studio.amounts import AmountUnclear, ScaledField
from dyehouse.studio.keys import KeyField
from dyehouse.studio.money import MoneyField, format_money
from dyehouse.studio.regions import currency_choices
from dyehouse.studio.widgets import Amount, Segmented, Stepper
from inventory.allocation.reorder import PriceFrom, saying
from inventory.buying.models import LONGEST_LEAD_DAYS, Offer, Supplier
from inventory.buying.ordering import Wanted
from inventory.buying.packs import Packs, PacksField, plain_unit, read_quantity
from recipes.dyeing.units import format_number, whole
from recipes.models import Auxiliary, Dye, PutUp

BREAKS = 3


def day_field(label: str, *, required: bool = True, help_text: str = "") -> forms.DateField:
    """A day, typed or chosen."""
    return forms.DateField(
        label=label,
        required=required,
        help_text=help_text,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={
            "required": "Write the day.",
            "invalid": "Write the day as year-month-day, for example 2027-08-01.",
        },
    )


def words_field(label: str, *, required: bool = False, help_text: str = "", why: str = "") -> forms.CharField:
    """A line of words."""
    return forms.CharField(
        label=label,
        max_length=300,
        required=required,
        help_text=help_text,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": why or "Write it in a few words."},
    )


class SupplierForm(forms.Form):
    """What is known of a mill or a dye maker."""

    name = forms.CharField(
        label="Name",
        max_length=80,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Write the name of the mill or maker."},
    )
    kind = forms.ChoiceField(
        label="Sells", choices=Supplier.Kind.choices, initial=Supplier.Kind.MILL, widget=Segmented
    )
    lead_days = forms.IntegerField(
        label="Days from order to door",
        min_value=0,
        max_value=LONGEST_LEAD_DAYS,
        initial=21,
        widget=Stepper(attrs={"min": 0, "max": LONGEST_LEAD_DAYS}),
        help_text="As it usually is; five months are 150. Closed weeks are written down apart.",
        error_messages={
            "required": "Write how many days they take.",
            "invalid": "Write a whole number of days.",
        },
    )
    currency = forms.ChoiceField(label="Invoices in")
    email = forms.EmailField(
        label="Orders go to",
        required=False,
        error_messages={"invalid": "This is no e-mail address. Write it like orders@mill.example."},
    )
    note = words_field("Note", help_text="A minimum, a discount, whom to ask for.")

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: forms.ChoiceField = self.fields["currency"]  # type: ignore[assignment]
        choices = currency_choices()
        field.choices = choices if currency in dict(choices) else [(currency, currency), *choices]
        field.initial = currency

    @staticmethod
    def initial_of(supplier: Supplier) -> dict[str, Any]:
        names = ("name", "kind", "lead_days", "currency", "email", "note")
        return {name: getattr(supplier, name) for name in names}


class ClosedWeeksForm(forms.Form):
    """Days on which a supplier does nothing."""

    first_day = day_field("First day closed")
    last_day = day_field("Last day closed")
    every_year = forms.BooleanField(label="Every year", required=False)


class OfferForm(forms.Form):
    """What a supplier sells by the pack, and what it costs there."""

    what = forms.ChoiceField(label="What", error_messages={"required": "Choose what they sell."})
    pack = forms.CharField(
        label="In a pack",
        max_length=30,
        widget=Amount("", attrs={"maxlength": 30}),
        help_text="10 for ten skeins, 50 for fifty minis; 100 g or 1 litre for dyes and auxiliaries.",
        error_messages={"required": "Write what is in a pack."},
    )
    price = MoneyField(label="Price of a pack", required=False)
    their_number = forms.CharField(
        label="Their number",
        max_length=60,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: Any, supplier: Supplier, offer: Offer | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer = offer
        money: MoneyField = self.fields["price"]  # type: ignore[assignment]
        money.currency = supplier.currency
        for number in range(1, BREAKS + 1):
            self.fields[f"from_{number}"] = forms.IntegerField(
                label=f"From so many packs ({number})",
                min_value=2,
                max_value=10_000,
                required=False,
                widget=Stepper(attrs={"min": 2}),
                error_messages={"min_value": "A price for many begins at 2 packs."},
            )
            self.fields[f"price_{number}"] = MoneyField(
                label="a pack costs", currency=supplier.currency, required=False
            )
        if offer is not None:
            del self.fields["what"], self.fields["pack"]
            return
        self.items = things_to_buy()
        field: forms.ChoiceField = self.fields["what"]  # type: ignore[assignment]
        field.choices = [("", "choose"), *_grouped(self.items)]

    @property
    def break_rows(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"from_{number}"], self[f"price_{number}"]) for number in range(1, BREAKS + 1)]

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        breaks = []
        for number in range(1, BREAKS + 1):
            packs, price = said.get(f"from_{number}"), said.get(f"price_{number}")
            wrong = {f"from_{number}", f"price_{number}"} & set(self.errors)
            if wrong or (packs is None and price is None):
                continue
            if packs is None or price is None:
                lacking = f"from_{number}" if packs is None else f"price_{number}"
                self.add_error(lacking, "Write both: from how many packs, and what a pack costs then.")
            else:
                breaks.append(PriceFrom(packs, price))
        said["breaks"] = breaks
        if "what" in said and "pack" in said:
            said["pack_quantity"] = self._pack_quantity(self.items[said["what"]], said["pack"])
        return said

    def _pack_quantity(self, item: Item, typed: str) -> int | None:
        try:
            quantity = whole(read_quantity(typed, item, plain=plain_unit(item)))
        except AmountUnclear as unclear:
            self.add_error("pack", str(unclear))
            return None
        if not 1 <= quantity <= 10**11:
            self.add_error("pack", "A pack holds more than nothing and less than 100 kg.")
        return quantity

    @property
    def chosen_item(self) -> Item:
        return self.items[self.cleaned_data["what"]]

    @staticmethod
    def initial_of(offer: Offer) -> dict[str, Any]:
        known: dict[str, Any] = {"price": offer.price_minor, "their_number": offer.their_number}
        for number, (packs, price) in enumerate(offer.breaks[:BREAKS], start=1):
            known |= {f"from_{number}": packs, f"price_{number}": price}
        return known


def things_to_buy() -> dict[str, Item]:
    """Everything that can be bought, by its ledger item: undyed yarn, dyes, auxiliaries. Three queries."""
    put_ups = PutUp.objects.filter(retired_at=None, base__retired_at=None).select_related("item")
    dyes = Dye.objects.filter(retired_at=None).select_related("item")
    auxiliaries = Auxiliary.objects.filter(retired_at=None).select_related("item")
    items = [
        *(one.item for one in put_ups.order_by("base__name", "-nominal_milligrams")),
        *(one.item for one in dyes.order_by("name")),
        *(one.item for one in auxiliaries.order_by("name")),
    ]
    return {str(item.pk): item for item in items}


def _grouped(items: dict[str, Item]) -> list[tuple[str, list[tuple[str, str]]]]:
    groups: dict[str, list[tuple[str, str]]] = {}
    for pk, item in items.items():
        groups.setdefault(item.get_kind_display(), []).append((pk, item.name))
    return list(groups.items())


def offer_words(offer: Offer) -> str:
    """What is in a pack and what it costs: packs of 10, 48.00 EUR; from 10 packs 45.12 EUR."""
    currency = offer.supplier.currency
    words = [f"packs of {saying(offer.item.unit)(offer.pack_quantity)}"]
    if offer.price_minor is not None:
        words[0] += f", {format_money(offer.price_minor, currency)}"
    words += [f"from {packs} packs {format_money(price, currency)}" for packs, price in offer.breaks]
    return "; ".join(words)


class OrderForm(forms.Form):
    """How many packs of what a supplier sells."""

    key = KeyField()
    note = words_field("Note for the order", help_text="It goes on the list for the supplier.")

    def __init__(
        self, *args: Any, offers: Sequence[Offer], packs: dict[int, int] | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.offers = list(offers)
        for offer in self.offers:
            self.fields[self.packs_name(offer)] = PacksField(
                label=offer.item.name,
                item=offer.item,
                pack_quantity=offer.pack_quantity,
                help_text=offer_words(offer),
                initial=(packs or {}).get(offer.pk, ""),
            )

    @staticmethod
    def packs_name(offer: Offer) -> str:
        return f"packs_{offer.pk}"

    @property
    def rows(self) -> list[forms.BoundField]:
        return [self[self.packs_name(offer)] for offer in self.offers]

    @property
    def said_packs(self) -> list[tuple[Offer, Packs]]:
        rows = ((offer, self.cleaned_data.get(self.packs_name(offer))) for offer in self.offers)
        return [(offer, packs) for offer, packs in rows if packs is not None]

    @property
    def wanted(self) -> list[Wanted]:
        return [Wanted(offer, said.packs) for offer, said in self.said_packs]

    @property
    def rounded(self) -> list[str]:
        """What was rounded up to packs, a sentence each."""
        return [said.sentence for _, said in self.said_packs if said.rounded]


class SendForm(forms.Form):
    """The day on which an order went out."""

    ordered_on = day_field("It went out on")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["ordered_on"].initial = timezone.localdate


class ExpectForm(forms.Form):
    """Another day, by the supplier's word."""

    day = day_field("Expected on")
    why = words_field(
        "Who said so", required=True, why="Write who said so, for example “the mill's mail of today”."
    )


class ShortForm(forms.Form):
    """Why the rest will not come."""

    why = words_field(
        "Why the rest will not come",
        required=True,
        why="Write why the rest will not come, for example “the mill has no more of it”.",
    )


class BackForm(forms.Form):
    """Why something that was taken in is taken back."""

    key = KeyField()
    why = words_field("Why", required=True, why="Say why this is taken back, in a word or two.")


class HabitsForm(forms.Form):
    """How it is reckoned what to order."""

    look_back_weeks = forms.IntegerField(
        label="Usual use from the last weeks",
        min_value=1,
        max_value=104,
        widget=Stepper(attrs={"min": 1, "max": 104}),
    )
    safety_weeks = forms.IntegerField(
        label="Weeks of use kept in reserve",
        min_value=0,
        max_value=52,
        widget=Stepper(attrs={"min": 0, "max": 52}),
    )
    cover_weeks = forms.IntegerField(
        label="Weeks that an order is to last",
        min_value=1,
        max_value=52,
        widget=Stepper(attrs={"min": 1, "max": 52}),
    )
    ready_days = forms.IntegerField(
        label="Days from the pot until ready to leave",
        min_value=0,
        max_value=90,
        widget=Stepper(attrs={"min": 0, "max": 90}),
        help_text="Dyeing, drying, labels: yarn for a promise must be there so much earlier.",
    )
    near_days = forms.IntegerField(
        label="Days ahead that it comes onto the day's page",
        min_value=0,
        max_value=90,
        widget=Stepper(attrs={"min": 0, "max": 90}),
    )
    promised_on_top = forms.TypedChoiceField(
        label="What is promised",
        choices=[("yes", "comes on top of usual use"), ("no", "is part of usual use: the larger counts")],
        coerce=lambda typed: typed == "yes",
        widget=Segmented,
    )


class RateField(ScaledField):
    """What one of a currency is worth in another, to a millionth."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            places=6,
            least=Decimal("0.000001"),
            most=Decimal(1_000_000),
            required_words="Write what it is worth, for example 1.15.",
            **kwargs,
        )

    def prepare_value(self, value: Any) -> Any:
        return format_number(Decimal(value).scaleb(-6), 6) if isinstance(value, int) else value
