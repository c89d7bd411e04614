"""What goes into a pot, asked: one line at the touch of a button, or several; a strip; the bath of an earlier pot."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django import forms

from dyehouse.studio.amounts import GramsField, LitresField
from dyehouse.studio.models import User, Vessel
from dyehouse.studio.widgets import Segmented, Stepper
from recipes.lots.baths import UsedBath
from recipes.lots.forms import MOST_INTO_A_POT_MICROLITRES, MOST_INTO_A_POT_MILLIGRAMS, MOST_PIECES, KeptForm
from recipes.lots.load_lines import LoadLine
from recipes.lots.load_words import line_words
from recipes.lots.models import PotLoad
from recipes.lots.yarn_choices import UNKNOWN, Groups, chosen_yarns, undyed_value
from recipes.models import Colourway, MillLot, PutUp

MOST_LINES = 12
ALL_OF_THEM = "Dry weight of all of them"
Typed = dict[str, str]


def _pieces_field() -> forms.IntegerField:
    return forms.IntegerField(
        label="Pieces",
        min_value=1,
        max_value=MOST_PIECES,
        widget=Stepper(attrs={"min": 1, "max": MOST_PIECES}),
        error_messages={
            "required": "Count the pieces that go in.",
            "min_value": "At least 1 piece goes in.",
            "max_value": f"More than {MOST_PIECES} pieces do not go into one pot. Check the count.",
        },
    )


def _weight_field(label: str) -> GramsField:
    return GramsField(label=label, required=False, most=MOST_INTO_A_POT_MILLIGRAMS)


class YarnLineForm(forms.Form):
    """One line of several: which yarn, how many pieces, and what they weigh by themselves."""

    what = forms.ChoiceField(
        label="Yarn",
        error_messages={
            "required": "Choose the yarn of this line, or take the line away.",
            "invalid_choice": "This yarn is not in the book. Choose it again.",
        },
    )
    pieces = _pieces_field()
    dry_weight = _weight_field("Dry weight of this line")

    def __init__(self, *args: Any, choices: Groups, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        what: forms.ChoiceField = self.fields["what"]  # type: ignore[assignment]
        what.choices = [("", "Choose the yarn"), *choices]


class LineForms:
    """The lines of a load as they were typed, one form a line; a line more or less keeps all that was typed.

    `data` is what was sent, None for a page that is opened with `first`. They are checked only when the pot is loaded, not
    when a line is added or taken away.
    """

    def __init__(
        self, typed: Sequence[Typed], *, choices: Groups, checked: bool, focus_last: bool = False
    ) -> None:
        self.checked = checked
        self.forms = [
            YarnLineForm(
                {f"line-{number}-{name}": value for name, value in line.items()} if checked else None,
                prefix=f"line-{number}",
                initial=line,
                choices=choices,
            )
            for number, line in enumerate(typed)
        ]
        if focus_last and self.forms:
            self.forms[-1].fields["what"].widget.attrs["autofocus"] = True

    def is_valid(self) -> bool:
        return self.checked and not self.wrong

    @property
    def wrong(self) -> bool:
        return self.checked and any(form.errors for form in self.forms)

    @property
    def lines(self) -> list[LoadLine]:
        """The lines that were typed; empty when one of them means nothing, which is then said beside it."""
        chosen = chosen_yarns(form.cleaned_data["what"] for form in self.forms)
        lines = []
        for form in self.forms:
            said = form.cleaned_data
            yarn = chosen.get(said["what"])
            if yarn is None:
                form.add_error("what", "This yarn is not in the book. Choose it again.")
                continue
            lines.append(
                LoadLine(yarn.put_up, yarn.mill_lot, said["pieces"], said["dry_weight"], yarn.dyed_before)
            )
        return lines


def typed_lines(sent: Mapping[str, Any]) -> list[Typed]:
    """The lines as they were sent, a line more or less where that button was touched."""
    count = sent.get("lines", "")
    number = min(int(count), MOST_LINES) if count.isascii() and count.isdigit() and len(count) < 4 else 0
    typed = [
        {name: sent.get(f"line-{line}-{name}", "") for name in ("what", "pieces", "dry_weight")}
        for line in range(number)
    ]
    away = sent.get("away", "")
    if away.isascii() and away.isdigit() and len(away) < 4 and int(away) < len(typed):
        del typed[int(away)]
    if "another" in sent and len(typed) < MOST_LINES:
        typed.append({"what": "", "pieces": "1", "dry_weight": ""})
    return typed


def one_line(sent: Mapping[str, Any], put_up: PutUp) -> Typed:
    """The only line of a load as a line among several; what was weighed of all of it is then its own weight."""
    lot = sent.get("mill_lot") or UNKNOWN
    return {
        "what": f"undyed-{put_up.pk}-{lot}",
        "pieces": sent.get("pieces", ""),
        "dry_weight": sent.get("dry_weight", ""),
    }


def planned_lines(loads: Iterable[PotLoad]) -> list[Typed]:
    """Planned lines as they would be typed."""
    return [
        {"what": undyed_value(load.put_up, load.mill_lot), "pieces": str(load.pieces), "dry_weight": ""}
        for load in loads
    ]


class BesideForm(KeptForm):
    """What may be told with every load: a strip beside the pieces, and whose bath is used again."""

    strip = GramsField(
        label="A strip beside the pieces",
        required=False,
        most=MOST_INTO_A_POT_MILLIGRAMS,
        help_text="Its dry weight. It counts as fibre in the bath, and is no piece.",
    )
    bath_from = forms.ChoiceField(label="Bath", required=False)
    bath_litres = LitresField(
        label="How much of that bath",
        required=False,
        most=MOST_INTO_A_POT_MICROLITRES // 1000,
        help_text="Left empty, it is as much as the log of that pot says.",
    )

    def __init__(self, *args: Any, baths: Sequence[UsedBath], user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.baths = {bath.pot.code: bath for bath in baths}
        chosen: forms.ChoiceField = self.fields["bath_from"]  # type: ignore[assignment]
        chosen.choices = [
            ("", "Fresh water"),
            *((code, f"The bath of {bath.words}") for code, bath in self.baths.items()),
        ]
        if not self.baths:
            del self.fields["bath_from"], self.fields["bath_litres"]

    @property
    def used_bath(self) -> UsedBath | None:
        """The bath that was chosen, with as much of it as was told, else as its pot's log says; None is fresh water."""
        bath = self.baths.get(self.cleaned_data.get("bath_from") or "")
        litres = self.cleaned_data.get("bath_litres")
        return UsedBath(bath.pot, litres * 1000) if bath is not None and litres else bath

    @property
    def beside_open(self) -> bool:
        """Whether something was told of it, or is wrong with it, so that it stands open."""
        names = [name for name in ("strip", "bath_from", "bath_litres") if name in self.fields]
        return any(self[name].value() or self[name].errors for name in names)


class LoadForm(BesideForm):
    """What goes into a pot for a trial. With several lines the yarn is asked line by line instead."""

    mill_lot = forms.ChoiceField(label="Mill lot", widget=Segmented)
    pieces = _pieces_field()
    dry_weight = _weight_field(ALL_OF_THEM)
    vessel = forms.ChoiceField(label="Vessel", widget=Segmented, required=False)
    colourway = forms.ChoiceField(label="Colourway", required=False)

    def __init__(
        self,
        *args: Any,
        put_up: PutUp,
        mill_lots: Sequence[MillLot],
        vessels: Sequence[Vessel],
        colourways: Iterable[Colourway],
        user: User,
        several: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, user=user, **kwargs)
        self.mill_lots = {str(lot.pk): lot for lot in mill_lots}
        self.vessels = {str(vessel.pk): vessel for vessel in vessels}
        self.colourways = {str(each.pk): each for each in colourways}
        nominal = GramsField().shown(put_up.nominal_milligrams)
        weighed = f"Weighed dry, if you can. Left empty, each piece counts as the {nominal} of its put-up."
        if several:
            del self.fields["mill_lot"], self.fields["pieces"]
            weighed = TOGETHER
        else:
            self._choose(
                "mill_lot",
                [
                    *((pk, lot.number) for pk, lot in self.mill_lots.items() if not lot.unknown),
                    (UNKNOWN, "not known"),
                ],
            )
        self._choose("vessel", [(pk, each.name) for pk, each in self.vessels.items()])
        if not self.vessels:
            del self.fields["vessel"]
        self._choose(
            "colourway",
            [
                ("", "A new colour"),
                *((pk, _listed(each, user)) for pk, each in self.colourways.items()),
            ],
        )
        self.fields["dry_weight"].help_text = weighed

    def _choose(self, name: str, choices: list[tuple[str, str]]) -> None:
        chosen: forms.ChoiceField = self.fields[name]  # type: ignore[assignment]
        chosen.choices = choices

    @property
    def chosen_mill_lot(self) -> MillLot | None:
        """The chosen lot; None is the one that nobody knows."""
        return self.mill_lots.get(self.cleaned_data["mill_lot"])

    @property
    def chosen_vessel(self) -> Vessel | None:
        return self.vessels.get(self.cleaned_data.get("vessel") or "")

    @property
    def chosen_colourway(self) -> Colourway | None:
        return self.colourways.get(self.cleaned_data.get("colourway") or "")


TOGETHER = (
    "Where all of it was weighed at once. The lines without a weight of their own share what is left of it."
)


def _listed(colourway: Colourway, user: User) -> str:
    name = colourway.shown_name(user)
    return name if name == colourway.code else f"{name} ({colourway.code})"


class PlannedLoadForm(BesideForm):
    """What is really at hand for a planned pot."""

    mill_lot = forms.ChoiceField(label="Mill lot", widget=Segmented)
    dry_weight = _weight_field(ALL_OF_THEM)

    def __init__(
        self,
        *args: Any,
        mill_lots: Sequence[MillLot],
        planned_milligrams: int,
        several: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.mill_lots = {str(lot.pk): lot for lot in mill_lots}
        if several or not mill_lots:
            del self.fields["mill_lot"]
        else:
            lots: forms.ChoiceField = self.fields["mill_lot"]  # type: ignore[assignment]
            lots.choices = [
                (pk, "not known" if lot.unknown else lot.number) for pk, lot in self.mill_lots.items()
            ]
        if not several and not planned_milligrams:
            del self.fields["dry_weight"]
            return
        planned = GramsField().shown(planned_milligrams)
        self.fields["dry_weight"].help_text = (
            f"{TOGETHER} The amounts follow it."
            if several
            else f"Weighed dry, if you can. The amounts follow it. Left empty, it stays {planned} as planned."
        )

    @property
    def chosen_mill_lot(self) -> MillLot | None:
        return self.mill_lots.get(self.cleaned_data.get("mill_lot") or "")


class WeightForm(KeptForm):
    """The dry weight of a load, weighed after it was written down: all of it together, line by line, and its strip."""

    dry_weight = GramsField(
        label=ALL_OF_THEM,
        most=MOST_INTO_A_POT_MILLIGRAMS,
        required_words="Write the grams that the scale shows.",
    )
    strip = GramsField(
        label="The strip beside them", required=False, least=0, most=MOST_INTO_A_POT_MILLIGRAMS
    )

    def __init__(self, *args: Any, loads: Sequence[PotLoad], strip_milligrams: int | None, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.loads = list(loads)
        self.several = len(self.loads) > 1
        dry: GramsField = self.fields["dry_weight"]  # type: ignore[assignment]
        self.fields["strip"].initial = strip_milligrams
        if not self.loads:
            del self.fields["dry_weight"]
        elif self.several:
            dry.required = False
            dry.help_text = TOGETHER
            for load in self.loads:
                now = GramsField().shown(load.dry_milligrams)
                self.fields[f"line_{load.pk}"] = GramsField(
                    label=line_words(load),
                    required=False,
                    most=MOST_INTO_A_POT_MILLIGRAMS,
                    help_text=f"Now {now}, {'weighed' if load.weighed else 'by the put-up'}.",
                )
        else:
            dry.initial = self.loads[0].dry_milligrams

    @property
    def line_fields(self) -> list[forms.BoundField]:
        return [self[f"line_{load.pk}"] for load in self.loads] if self.several else []

    @property
    def by_load(self) -> dict[int, int]:
        """The weights of single lines by their ids."""
        if not self.several:
            return {}
        weights = {load.pk: self.cleaned_data[f"line_{load.pk}"] for load in self.loads}
        return {pk: weight for pk, weight in weights.items() if weight}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not self.errors and self.several and not (cleaned.get("dry_weight") or self.by_load):
            self.add_error("dry_weight", "Write the grams of all of them, or of a line.")
        return cleaned
