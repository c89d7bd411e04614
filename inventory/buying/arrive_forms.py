"""What is asked when something comes: how much of which line in which lot, and what was charged for it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django import forms
from django.utils import timezone

from dyehouse.ledger.models import Item
from dyehouse.studio.amounts import AmountUnclear
from dyehouse.studio.keys import KeyField
from dyehouse.studio.money import MoneyField
from dyehouse.studio.widgets import Amount, Stepper
from inventory.allocation.reorder import saying
from inventory.buying.arriving import Came, Charged
from inventory.buying.forms import RateField, day_field, words_field
from inventory.buying.models import Bill, Delivery, Purchase, PurchaseLine
from inventory.buying.packs import plain_unit, read_quantity
from inventory.buying.queries import ArrivalCost, LineCame, shared_out
from recipes.dyeing.units import whole

MOST_PACKS = 10_000


class DeliveryForm(forms.Form):
    """When it came."""

    key = KeyField()
    arrived_on = day_field("It came on")
    note = words_field("Note", help_text="A wet box, a pack without its band.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["arrived_on"].initial = timezone.localdate


class CameForm(forms.Form):
    """What came of one line in one lot. A row left empty brought nothing."""

    line = forms.ChoiceField(label="What", error_messages={"required": "Choose what came."})
    packs = forms.IntegerField(
        label="Packs",
        min_value=0,
        max_value=MOST_PACKS,
        required=False,
        widget=Stepper(attrs={"min": 0}),
        error_messages={"max_value": f"This is more than {MOST_PACKS:,} packs. Check the number."},
    )
    loose = forms.CharField(
        label="Loose beside them",
        required=False,
        max_length=20,
        widget=Amount(""),
        help_text="Pieces; grams or millilitres of dyes and auxiliaries.",
    )
    number = forms.CharField(
        label="Mill lot, or lot on the jar",
        required=False,
        max_length=50,
        help_text="Empty when nobody knows.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )

    def __init__(self, *args: Any, lines: Sequence[LineCame], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lines = {str(came.line.pk): came.line for came in lines}
        field: forms.ChoiceField = self.fields["line"]  # type: ignore[assignment]
        field.choices = [(pk, _named(line)) for pk, line in self.lines.items()]

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        line = self.lines.get(said.get("line", ""))
        said["quantity"] = 0
        if line is not None and said.get("loose", "").strip():
            said["quantity"] = self._loose(line.item, said["loose"])
        return said

    def _loose(self, item: Item, typed: str) -> int:
        try:
            exact = read_quantity(typed, item, plain=plain_unit(item))
        except AmountUnclear as unclear:
            self.add_error("loose", str(unclear))
            return 0
        if exact < 0 or (item.unit == Item.Unit.PIECE and exact.denominator != 1) or exact > 10**12:
            self.add_error(
                "loose",
                "Write a whole number of pieces."
                if item.unit == Item.Unit.PIECE
                else "Write an amount, for example 250 g.",
            )
            return 0
        return whole(exact)

    @property
    def came(self) -> Came | None:
        """What came by this row; None where it was left empty."""
        said = self.cleaned_data
        packs, loose = said.get("packs") or 0, said.get("quantity", 0)
        if not (packs or loose):
            return None
        return Came(self.lines[said["line"]], packs, loose, said.get("number", ""))


CameRows = forms.formset_factory(CameForm, extra=0, max_num=60)


def rows_came(rows: Iterable[forms.Form]) -> list[Came]:
    """What was written, row by row."""
    found = (row.came for row in rows if isinstance(row, CameForm))
    return [came for came in found if came is not None]


def first_rows(lines: Sequence[LineCame]) -> list[dict[str, Any]]:
    """A row for each line that is open, empty: what is there is counted, not taken from the order."""
    waiting = [came for came in lines if came.open] or list(lines)
    return [{"line": str(came.line.pk)} for came in waiting]


def _named(line: PurchaseLine) -> str:
    per = line.pack_quantity
    if line.item.unit == Item.Unit.PIECE:
        return f"{line.item.name}, packs of {per}"
    return (
        f"{line.item.name}, packs of {per // 1000:g} {'g' if line.item.unit == Item.Unit.MILLIGRAM else 'ml'}"
    )


class BillForm(forms.Form):
    """What was charged for a delivery: the goods line by line, freight, other costs, and the rate of its money."""

    freight = MoneyField(label="Freight", required=False)
    other = MoneyField(label="Duty, fees and other costs", required=False)
    rate = RateField(label="Rate", required=False)

    def __init__(
        self,
        *args: Any,
        purchase: Purchase,
        costs: Sequence[ArrivalCost],
        lines: dict[int, PurchaseLine],
        studio_currency: str,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.by_line: dict[int, list[ArrivalCost]] = {}
        for cost in costs:
            self.by_line.setdefault(lines[cost.arrival_id].pk, []).append(cost)
        of_line = {line.pk: line for line in lines.values()}
        for name in ("freight", "other"):
            money: MoneyField = self.fields[name]  # type: ignore[assignment]
            money.currency = purchase.currency
        if purchase.currency == studio_currency:
            del self.fields["rate"]
        else:
            self.fields["rate"].label = f"One {purchase.currency} in {studio_currency}"
            self.fields["rate"].help_text = "As the bank charged it. Empty when it is not known."
        for pk, of in self.by_line.items():
            known, item = [cost.goods_minor for cost in of], of_line[pk].item
            self.fields[self.goods_name(pk)] = MoneyField(
                label=item.name,
                help_text=f"All {saying(item.unit)(sum(cost.quantity for cost in of))} together.",
                currency=purchase.currency,
                required=False,
                initial=sum(each or 0 for each in known) if None not in known else None,
            )

    @staticmethod
    def goods_name(line_pk: int) -> str:
        return f"goods_{line_pk}"

    @property
    def goods_rows(self) -> list[forms.BoundField]:
        """What each line cost, all of it that came together."""
        return [self[self.goods_name(pk)] for pk in self.by_line]

    @property
    def charged(self) -> Charged:
        said = self.cleaned_data
        goods: dict[int, int] = {}
        for pk, of in self.by_line.items():
            minor = said.get(self.goods_name(pk))
            if minor is not None:
                shares = shared_out(minor, [cost.quantity for cost in of])
                goods |= {cost.arrival_id: share for cost, share in zip(of, shares, strict=True)}
        return Charged(goods, said.get("freight") or 0, said.get("other") or 0, said.get("rate"))

    @staticmethod
    def initial_of(bill: Bill | None) -> dict[str, Any]:
        if bill is None:
            return {}
        return {"freight": bill.freight_minor, "other": bill.other_minor, "rate": bill.rate_millionths}


def lines_of(delivery: Delivery) -> dict[int, PurchaseLine]:
    """The order line of each arrival of a delivery, by the arrival; the delivery as `with_costs` reads it."""
    return {arrival.pk: arrival.line for arrival in delivery.counting}  # type: ignore[attr-defined]
