"""Forms for undyed yarn: bases, put-ups, mill lots and what arrives of them."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from dyehouse.studio.amounts import CentimetresField, GramsField, MetresField, ScaledField
from dyehouse.studio.keys import KeyField
from dyehouse.studio.regions import countries
from dyehouse.studio.widgets import Segmented, Stepper
from recipes.dyeing.fibres import FIBRES
from recipes.models import Base, BaseFibre, MillLot, PutUp
from recipes.yarn import FibresDoNotAddUp, check_fibres

FIBRE_ROWS = 5
MOST_PIECES = 100_000
ARRIVED = (("now", "Arrived now"), ("before", "Was there before the house"))
NEW_LOT, UNKNOWN_LOT = "new", "unknown"


def came_field() -> forms.ChoiceField:
    """Whether something arrives now or was there when the house began."""
    return forms.ChoiceField(label="Since when", choices=ARRIVED, initial="now", widget=Segmented)


def pieces_field(**kwargs: Any) -> forms.IntegerField:
    """A count of pieces with a button on either side."""
    return forms.IntegerField(
        **{"label": "Pieces", "min_value": 1, "max_value": MOST_PIECES, "widget": Stepper, **kwargs},
        error_messages={
            "required": "Write how many pieces there are.",
            "invalid": "Write a whole number of pieces.",
            "min_value": f"Write {kwargs.get('min_value', 1)} or more.",
            "max_value": "This is more than 100,000 pieces. Check the number.",
        },
    )


def _per_100g_field() -> MetresField:
    return MetresField(
        label="Metres in 100 g",
        least=10,
        most=3000,
        required=False,
        help_text="400 for most fingering yarns.",
    )


class BaseFactsForm(forms.Form):
    """What is known of a base. Its name is enough."""

    name = forms.CharField(
        label="Name of the base",
        max_length=80,
        help_text="As you call it.",
        error_messages={"required": "Give the base a name. It can be changed."},
    )
    metres_per_100g = _per_100g_field()
    category = forms.TypedChoiceField(
        label="Yarn weight category",
        choices=[("", "not known"), *Base.Category.choices],
        coerce=int,
        empty_value=None,
        required=False,
    )
    superwash = forms.TypedChoiceField(
        label="Superwash",
        choices=[("", "not known"), ("yes", "yes"), ("no", "no")],
        coerce=lambda typed: typed == "yes",
        empty_value=None,
        required=False,
    )
    hank_circumference_millimetres = CentimetresField(
        label="Hank circumference",
        least=200,
        most=5000,
        required=False,
        help_text="Once around the open hank.",
    )
    spun_in = forms.ChoiceField(label="Spun in", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        spun_in = self.fields["spun_in"]
        assert isinstance(spun_in, forms.ChoiceField)
        spun_in.choices = [("", "not known"), *countries()]
        for number in range(1, FIBRE_ROWS + 1):
            self.fields[f"fibre_{number}"] = forms.ChoiceField(
                label=f"Fibre {number}",
                choices=[("", "–"), *((fibre.slug, fibre.name) for fibre in FIBRES)],
                required=False,
            )
            self.fields[f"share_{number}"] = ScaledField(
                label=f"Share of fibre {number}",
                places=1,
                least=Decimal("0.1"),
                most=Decimal(100),
                unit="%",
                required=False,
            )

    @property
    def fibre_rows(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        """The rows of fibres with their shares, for the page."""
        return [(self[f"fibre_{number}"], self[f"share_{number}"]) for number in range(1, FIBRE_ROWS + 1)]

    def clean(self) -> dict[str, Any]:
        fibres: dict[str, int] = {}
        for number in range(1, FIBRE_ROWS + 1):
            fibre = self.cleaned_data.get(f"fibre_{number}")
            share = self.cleaned_data.get(f"share_{number}")
            if fibre and share is None and f"share_{number}" not in self.errors:
                self.add_error(f"share_{number}", "Write the share of this fibre in percent.")
            elif share is not None and not fibre:
                self.add_error(f"fibre_{number}", "Choose which fibre this share is of.")
            elif fibre and fibre in fibres:
                self.add_error(f"fibre_{number}", "This fibre stands above already. Add its share there.")
            elif fibre and share is not None:
                fibres[fibre] = share
        wrong = any(name.startswith(("fibre_", "share_")) for name in self.errors)
        if fibres and not wrong:
            try:
                check_fibres(fibres)
            except FibresDoNotAddUp as refused:
                self.add_error("share_1", str(refused))
        self.cleaned_data["fibres"] = fibres or None
        return self.cleaned_data

    def facts(self) -> dict[str, Any]:
        """What the form says of the base, as `add_base` and `change_base` take it."""
        named = (
            "name",
            "fibres",
            "metres_per_100g",
            "category",
            "superwash",
            "hank_circumference_millimetres",
            "spun_in",
        )
        return {name: self.cleaned_data[name] for name in named}

    @staticmethod
    def initial_of(base: Base) -> dict[str, Any]:
        """What is known of a base, as the form shows it."""
        known: dict[str, Any] = {
            "name": base.name,
            "metres_per_100g": base.metres_per_100g,
            "category": base.category,
            "superwash": {True: "yes", False: "no"}.get(base.superwash, "")
            if base.superwash is not None
            else "",
            "hank_circumference_millimetres": base.hank_circumference_millimetres,
            "spun_in": base.spun_in,
        }
        fibres: list[BaseFibre] = list(base.fibres.order_by("-per_mille", "pk"))
        for number, fibre in enumerate(fibres, start=1):
            known[f"fibre_{number}"] = fibre.fibre
            known[f"share_{number}"] = fibre.per_mille
        return known


class NewBaseForm(BaseFactsForm):
    """A base with its first put-up and, when there is some, what is in the store."""

    key = KeyField()
    nominal_milligrams = GramsField(
        label="Weight of a piece",
        least=1000,
        most=5_000_000,
        initial=100_000,
        help_text="As on the label: 100 g for a skein, 50 g for a half, 20 g for a mini.",
        required_words="Write what a piece weighs, for example 100.",
    )
    metres = MetresField(label="Length of a piece", most=50_000, required=False)
    pieces = pieces_field(label="Pieces in the store", min_value=0, required=False, initial=0)
    mill_lot = forms.CharField(
        label="Mill lot", max_length=60, required=False, help_text="Empty when nobody knows."
    )
    came = came_field()

    field_order = ("key", "name", "nominal_milligrams", "metres", "pieces", "mill_lot", "came")


class PutUpForm(forms.Form):
    """Another weight that a base is put up in."""

    nominal_milligrams = GramsField(
        label="Weight of a piece",
        least=1000,
        most=5_000_000,
        required_words="Write what a piece weighs, for example 50.",
    )
    metres = MetresField(label="Length of a piece", most=50_000, required=False)
    name = forms.CharField(
        label="Called", max_length=40, required=False, help_text="For example half skein or mini."
    )


class PutUpFactsForm(forms.Form):
    """What may be put right of a put-up: not its weight, since another weight is another put-up."""

    metres = MetresField(label="Length of a piece", most=50_000, required=False)
    name = forms.CharField(
        label="Called", max_length=40, required=False, help_text="For example half skein or mini."
    )


class YarnInForm(forms.Form):
    """Pieces that come into the store."""

    key = KeyField()
    put_up = forms.ChoiceField(label="Put-up", error_messages={"required": "Choose the weight of a piece."})
    pieces = pieces_field(initial=10)
    lot = forms.ChoiceField(label="Mill lot")
    number = forms.CharField(
        label="Number of the new mill lot", max_length=60, required=False, help_text="As the mill wrote it."
    )
    came = came_field()

    def __init__(self, *args: Any, base: Base, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        put_ups = PutUp.objects.filter(base=base, retired_at=None).select_related("item")
        self.put_ups = {str(put_up.pk): put_up for put_up in put_ups.order_by("-nominal_milligrams")}
        self.lots = {
            str(lot.pk): lot
            for lot in MillLot.objects.filter(base=base, unknown=False).select_related("lot").order_by("-pk")
        }
        for put_up in self.put_ups.values():
            put_up.base = base
        put_up_field, lot_field = self.fields["put_up"], self.fields["lot"]
        assert isinstance(put_up_field, forms.ChoiceField)
        assert isinstance(lot_field, forms.ChoiceField)
        put_up_field.choices = [(pk, put_up_words(put_up)) for pk, put_up in self.put_ups.items()]
        lot_field.choices = [
            (NEW_LOT, "a new one, numbered below"),
            *((pk, lot.number) for pk, lot in self.lots.items()),
            (UNKNOWN_LOT, "not known"),
        ]

    def clean(self) -> dict[str, Any]:
        if self.cleaned_data.get("lot") == NEW_LOT and not self.cleaned_data.get("number", "").strip():
            self.add_error("number", "Write the number of the mill lot, or choose “not known” above.")
        return self.cleaned_data

    @property
    def chosen_put_up(self) -> PutUp:
        return self.put_ups[self.cleaned_data["put_up"]]

    @property
    def chosen_lot(self) -> MillLot | None:
        """The mill lot chosen from the list; None for a new or an unknown one."""
        return self.lots.get(self.cleaned_data["lot"])

    @property
    def new_number(self) -> str:
        """The number of a new mill lot; empty for the unknown one."""
        return self.cleaned_data["number"] if self.cleaned_data["lot"] == NEW_LOT else ""


def put_up_words(put_up: PutUp) -> str:
    """A put-up as people say it: 100 g skein, 400 m."""
    grams = GramsField().shown(put_up.nominal_milligrams)
    words = f"{grams} {put_up.name}" if put_up.name else grams
    return f"{words}, {put_up.metres} m" if put_up.metres else words
