"""What is asked of products and orders."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils import timezone

from dyehouse.studio.codes import tidy
from dyehouse.studio.money import MoneyField
from dyehouse.studio.widgets import Segmented, Stepper
from inventory.kit_forms import KitChoices
from inventory.models import Kit
from inventory.promises.models import Offer, Order, OrderChange, Payment, Product, ShopTerms
from inventory.promises.orders import MOST_OF_A_LINE, LineWanted
from inventory.promises.people import NobodyMeant, person_said
from inventory.promises.products import OfferFacts, ProductFacts
from recipes.lots.models import DyeLot
from recipes.models import Colourway, PutUp

MOST_CHOICES = 12
MOST_LINES = 60
OFF = {"autocomplete": "off"}
DAY = {
    "required": "Choose the day.",
    "invalid": "Write the day as year, month and day, for example 2026-03-14.",
}
KINDS_TYPED = [
    (Order.Kind.PREORDER.value, "pre-order"),
    (Order.Kind.CUSTOM.value, "custom"),
    (Order.Kind.WHOLESALE.value, "wholesale"),
]
PAYMENTS = [(kind.value, kind.label) for kind in Payment.Kind]
STEPS = [
    (OrderChange.Kind.AGREED.value, "agreed"),
    (OrderChange.Kind.DYEING.value, "dyeing"),
    (OrderChange.Kind.READY.value, "ready"),
]


def _date(label: str, **more: Any) -> forms.DateField:
    more.setdefault("required", False)
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, widget=widget, error_messages=DAY, **more)


def _number(label: str, *, least: int, most: int, **more: Any) -> forms.IntegerField:
    more.setdefault("required", False)
    return forms.IntegerField(
        label=label,
        min_value=least,
        max_value=most,
        widget=Stepper(attrs={"min": least, "max": most}),
        error_messages={
            "required": "Write a number.",
            "invalid": "Write a whole number.",
            "min_value": "Write %(limit_value)s or more.",
            "max_value": "Write %(limit_value)s or less.",
        },
        **more,
    )


def _words(label: str, longest: int, **more: Any) -> forms.CharField:
    more.setdefault("required", False)
    return forms.CharField(label=label, max_length=longest, widget=forms.TextInput(attrs=OFF), **more)


class ProductForm(forms.Form):
    """A product, its choices aside."""

    name = _words("Called", 120, required=True, error_messages={"required": "Write what it is called."})
    kind = forms.ChoiceField(
        label="It is a", choices=Product.Kind.choices, initial=Product.Kind.PREORDER, widget=Segmented
    )
    most = _number(
        "Sold at most", least=1, most=100_000, help_text="All choices together; empty for no limit."
    )
    opens_on = _date("Orders open")
    closes_on = _date("Orders close")
    ships_on = _date("Ships on")
    weeks_promised = _number(
        "Weeks from the order", least=1, most=104, help_text="Where no day is fixed for shipping."
    )
    deposit_minor = MoneyField(label="Deposit", required=False)
    balance_due = _date("The balance is due")
    secret_on = _date("Secret until", help_text="Before it, open paper shows code names only.")
    names_on_sealed_paper = forms.BooleanField(
        label="Labels and cards inside the parcel carry the colourways' names", required=False
    )
    spares_percent = _number("Spares, of 100 pieces", least=0, most=50, initial=5)
    spares_until = _date("Spares are not sold before")
    insert_words = forms.CharField(
        label="Words for the card inside",
        max_length=1500,
        required=False,
        widget=forms.Textarea(attrs={**OFF, "rows": 4}),
    )

    def __init__(self, *args: Any, currency: str, product: Product | None = None, **kwargs: Any) -> None:
        if product is not None:
            names = [name for name in self.base_fields if name != "secret_on"]
            initial = {name: getattr(product, name) for name in names}
            if product.secret_until is not None:
                initial["secret_on"] = timezone.localdate(product.secret_until)
            kwargs.setdefault("initial", initial)
        super().__init__(*args, **kwargs)
        money: MoneyField = self.fields["deposit_minor"]  # type: ignore[assignment]
        money.currency = currency

    @property
    def facts(self) -> ProductFacts:
        said = dict(self.cleaned_data)
        day = said.pop("secret_on")
        said["spares_percent"] = said["spares_percent"] or 0
        midnight = dt.datetime.combine(day, dt.time.min) if day else None
        return ProductFacts(**said, secret_until=midnight and timezone.make_aware(midnight))


class OfferForm(forms.Form):
    """One choice of a product: a kit, or a colourway on a yarn. A row left empty is none."""

    pk = forms.IntegerField(required=False, widget=forms.HiddenInput)
    name = _words("Choice", 60, help_text="The base, where there are several.")
    kit = forms.ModelChoiceField(label="Kit", queryset=Kit.objects.none(), required=False, empty_label="none")
    colourway = forms.ModelChoiceField(
        label="or colourway", queryset=Colourway.objects.none(), required=False, empty_label="none"
    )
    put_up = forms.ModelChoiceField(
        label="on yarn", queryset=PutUp.objects.none(), required=False, empty_label="none"
    )
    price_minor = MoneyField(label="Price", required=False)
    most = _number("At most", least=1, most=100_000)

    def __init__(
        self, *args: Any, choices: KitChoices, kits: Iterable[Kit], currency: str, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        kit: forms.ModelChoiceField = self.fields["kit"]  # type: ignore[assignment]
        kit.queryset = Kit.objects.all()
        kit.choices = [("", "none"), *((each.pk, each.name) for each in kits)]
        fill_yarn_choices(self, choices)
        money: MoneyField = self.fields["price_minor"]  # type: ignore[assignment]
        money.currency = currency

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        colourway, put_up = said.get("colourway"), said.get("put_up")
        if said.get("kit") and (colourway or put_up):
            self.add_error("kit", "Choose a kit, or a colourway on a yarn, not both.")
        elif colourway and not put_up:
            self.add_error("put_up", "Choose the yarn of this choice.")
        elif put_up and not colourway:
            self.add_error("colourway", "Choose the colourway of this choice.")
        elif said.get("name") and not said.get("kit") and not put_up:
            self.add_error("kit", "Choose what this is: a kit, or a colourway on a yarn.")
        return said


def fill_yarn_choices(form: forms.Form, choices: KitChoices) -> None:
    """Give a form's colourway and put_up the choices that were read once for all rows."""
    colourway: forms.ModelChoiceField = form.fields["colourway"]  # type: ignore[assignment]
    colourway.queryset = choices.all_colourways
    colourway.choices = [("", "none"), *choices.colourways]
    put_up: forms.ModelChoiceField = form.fields["put_up"]  # type: ignore[assignment]
    put_up.queryset = choices.all_put_ups
    put_up.choices = [("", "none"), *choices.put_ups]


Choices = forms.formset_factory(OfferForm, extra=2, max_num=MOST_CHOICES, validate_max=True)


def offers_said(rows: Iterable[forms.Form]) -> list[OfferFacts]:
    """The choices that were written, in their order."""
    return [
        OfferFacts(
            name=said.get("name", ""),
            kit=said.get("kit"),
            colourway=said.get("colourway"),
            put_up=said.get("put_up"),
            price_minor=said.get("price_minor"),
            most=said.get("most"),
            pk=said.get("pk"),
        )
        for said in (row.cleaned_data for row in rows)
        if said.get("kit") or said.get("put_up")
    ]


class OrderForm(forms.Form):
    """An order, its lines aside."""

    kind = forms.ChoiceField(label="It is", choices=KINDS_TYPED, widget=Segmented)
    number = _words(
        "Order number", 60, required=True, error_messages={"required": "Write the order's number."}
    )
    buyer = _words(
        "Who orders",
        254,
        required=True,
        help_text="An e-mail address, a whole name, or the person's code.",
        error_messages={"required": "Write who orders."},
    )
    receiver = _words("Who gets it", 254, help_text="Where that is somebody else.")
    gift_note = _words("Words for the gift", 500)
    due = _date("Promised for")
    note = _words("Note", 500)

    def clean_buyer(self) -> Any:
        return self._person(self.cleaned_data["buyer"])

    def clean_receiver(self) -> Any:
        typed = self.cleaned_data["receiver"]
        return self._person(typed) if typed else None

    def _person(self, typed: str) -> Any:
        try:
            return person_said(typed)
        except NobodyMeant as nobody:
            raise forms.ValidationError(str(nobody)) from None


class LineForm(forms.Form):
    """One line of an order: a product's choice, or pieces of a colourway on a yarn. A row left empty is none."""

    offer = forms.ModelChoiceField(
        label="What", queryset=Offer.objects.none(), required=False, empty_label="none"
    )
    colourway = forms.ModelChoiceField(
        label="or colourway", queryset=Colourway.objects.none(), required=False, empty_label="none"
    )
    put_up = forms.ModelChoiceField(
        label="on yarn", queryset=PutUp.objects.none(), required=False, empty_label="none"
    )
    count = _number("How many", least=1, most=MOST_OF_A_LINE, initial=1)
    each_minor = MoneyField(label="Price each", required=False)
    lot = _words("To match lot", 12)
    words = _words("What is asked for", 300)

    def __init__(
        self, *args: Any, choices: KitChoices, offers: Iterable[Offer], currency: str, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        offer: forms.ModelChoiceField = self.fields["offer"]  # type: ignore[assignment]
        offer.queryset = Offer.objects.select_related("product", "kit", "put_up", "colourway")
        offer.choices = [("", "none"), *((each.pk, str(each)) for each in offers)]
        fill_yarn_choices(self, choices)
        money: MoneyField = self.fields["each_minor"]  # type: ignore[assignment]
        money.currency = currency

    def clean_lot(self) -> DyeLot | None:
        typed = self.cleaned_data["lot"]
        if not typed:
            return None
        found = DyeLot.objects.filter(code=tidy(typed)).first()
        if found is None:
            raise forms.ValidationError("There is no lot of this code. It stands on the label of the skein.")
        return found

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        if said.get("offer") and (said.get("colourway") or said.get("put_up")):
            self.add_error("offer", "Choose a product, or a colourway on a yarn, not both.")
        elif said.get("colourway") and not said.get("put_up"):
            self.add_error("put_up", "Choose the yarn of this line.")
        elif (said.get("words") or said.get("lot")) and not said.get("offer") and not said.get("put_up"):
            self.add_error("put_up", "Choose the yarn of this line, or empty it.")
        return said

    @property
    def wanted(self) -> LineWanted | None:
        said = self.cleaned_data
        if not said.get("offer") and not said.get("put_up"):
            return None
        return LineWanted(
            count=said.get("count") or 1,
            offer=said.get("offer"),
            colourway=said.get("colourway"),
            put_up=said.get("put_up"),
            each_minor=said.get("each_minor"),
            reference_lot=said.get("lot"),
            words=said.get("words", ""),
        )


Lines = forms.formset_factory(LineForm, extra=3, max_num=MOST_LINES, validate_max=True)


class ChangeLineForm(forms.Form):
    """Another number of a line, and why."""

    count = _number("How many", least=1, most=MOST_OF_A_LINE, required=True)
    why = _words("Why", 300, help_text="Without names: this stays.")


class PaymentForm(forms.Form):
    """How an order's payment stands."""

    kind = forms.ChoiceField(label="It is", choices=PAYMENTS, widget=Segmented)
    amount = MoneyField(label="Amount", required=False)

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        money: MoneyField = self.fields["amount"]  # type: ignore[assignment]
        money.currency = currency


class StepForm(forms.Form):
    """How an order goes on."""

    kind = forms.ChoiceField(label="It is now", choices=STEPS, widget=Segmented)


class TermsForm(forms.Form):
    """On what terms a yarn shop buys."""

    least_pieces = _number("At least so many pieces", least=1, most=100_000)
    least_minor = MoneyField(label="At least worth", required=False)
    least_a_colourway = _number("Of one colourway on one base at least", least=1, most=10_000)
    deposit_percent = _number("Deposit, of 100", least=0, most=100, initial=0)
    discount_percent = _number("Off the retail price, of 100", least=0, most=100, initial=50)
    exclusive = _words("What no other shop gets", 300)

    def __init__(self, *args: Any, currency: str, terms: ShopTerms | None = None, **kwargs: Any) -> None:
        if terms is not None:
            kwargs.setdefault("initial", {name: getattr(terms, name) for name in self.base_fields})
        super().__init__(*args, **kwargs)
        money: MoneyField = self.fields["least_minor"]  # type: ignore[assignment]
        money.currency = currency
