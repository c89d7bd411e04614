"""What is asked when pieces come out of a pot, and when they are judged dry."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from django import forms

from dyehouse.studio.keys import KeyField
from dyehouse.studio.widgets import Segmented, Stepper
from recipes.lots.jugs import OneLot
from recipes.lots.load_words import before_words, mill_lot_words
from recipes.lots.models import DyeLot, JudgedPieces, Judgement, Pot, PotLoad
from recipes.lots.to_judge import Waiting

MOST_PIECES = 500
OWN_LOT = "own"
Outcome = JudgedPieces.Outcome
CANNOT_MATCH_YET = (Judgement.Verdict.FIRST,)


class OutForm(forms.Form):
    """The bath at the end, and how many pieces really came out."""

    key = KeyField()
    bath = forms.ChoiceField(
        label="The bath is",
        choices=Pot.Bath.choices,
        widget=Segmented,
        error_messages={"required": "Say whether the bath is clear, tinted or coloured."},
    )

    def __init__(
        self, *args: Any, loads: Sequence[PotLoad], one_lot: Sequence[OneLot] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.one_lot = {each.lot.code: each for each in one_lot}
        if one_lot:
            self.fields["lot"] = forms.ChoiceField(
                label="Its lot",
                choices=[
                    *((code, f"Same lot as {each.pot_words}") for code, each in self.one_lot.items()),
                    (OWN_LOT, "A lot of its own"),
                ],
                initial=one_lot[0].lot.code if one_lot[0].joins else OWN_LOT,
                widget=Segmented,
                error_messages={
                    "required": "Say whether it is the same lot or one of its own.",
                    "invalid_choice": "That lot is no longer from the same jug. Choose again.",
                },
            )
        self.loads = list(loads)
        for load in self.loads:
            self.fields[f"out_{load.pk}"] = forms.IntegerField(
                label=self._which(load),
                min_value=0,
                max_value=MOST_PIECES,
                initial=load.pieces,
                widget=Stepper(attrs={"min": 0, "max": MOST_PIECES}),
                help_text=f"{load.pieces} went in.",
                error_messages={"required": "Count the pieces that came out."},
            )

    def _which(self, load: PotLoad) -> str:
        """Which pieces are counted: the put-up, and what tells its lines apart where there are several."""
        words = f"Pieces out, {load.put_up.base.name} {load.put_up.nominal_milligrams // 1000} g"
        alike = [each for each in self.loads if each.put_up_id == load.put_up_id]
        apart = [mill_lot_words(load)] if len(alike) > 1 else []
        return ", ".join([words, *apart, *filter(None, [before_words(load)])])

    @property
    def count_fields(self) -> list[forms.BoundField]:
        return [self[f"out_{load.pk}"] for load in self.loads]

    @property
    def join(self) -> DyeLot | None:
        """The lot that the pieces join; None for a lot of their own."""
        joined = self.one_lot.get(self.cleaned_data.get("lot", OWN_LOT))
        return None if joined is None else joined.lot

    @property
    def pieces_out(self) -> dict[int, int]:
        """Pieces by the id of their load."""
        return {load.pk: self.cleaned_data[f"out_{load.pk}"] for load in self.loads}


class JudgeForm(forms.Form):
    """How many came out how, whether they match, and what to say of it. All that wait count as good at first."""

    key = KeyField()
    verdict = forms.ChoiceField(
        label="Beside the lot to repeat", choices=Judgement.Verdict.choices, widget=Segmented, required=False
    )
    words = forms.CharField(label="In words", max_length=300, required=False)
    repeat = forms.BooleanField(label="This is the one to repeat", required=False)
    photo = forms.FileField(label="Photo in daylight", required=False)

    def __init__(
        self,
        *args: Any,
        waiting: Sequence[Waiting],
        has_reference: bool,
        sample: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.waiting = list(waiting)
        expected = Outcome.SAMPLE if sample else Outcome.GOOD
        self.fields["photo"].widget.attrs |= {"accept": "image/*", "capture": "environment"}
        if has_reference:
            verdict: forms.ChoiceField = self.fields["verdict"]  # type: ignore[assignment]
            verdict.choices = [
                choice for choice in Judgement.Verdict.choices if choice[0] not in CANNOT_MATCH_YET
            ]
        else:
            # With nothing to match, the only honest verdict is that there is none yet.
            del self.fields["verdict"]
            self.fields["repeat"].initial = not sample
        if sample:
            del self.fields["repeat"]
        for line in self.waiting:
            for outcome in Outcome:
                self.fields[self.name(line, outcome)] = forms.IntegerField(
                    label=str(outcome.label).capitalize(),
                    min_value=0,
                    max_value=MOST_PIECES,
                    required=False,
                    initial=line.pieces if outcome == expected else 0,
                    widget=Stepper(attrs={"min": 0, "max": MOST_PIECES, "data-adds": f"put-up-{line.slug}"}),
                )

    @staticmethod
    def name(line: Waiting, outcome: str) -> str:
        return f"{outcome}_{line.slug}"

    @property
    def groups(self) -> list[tuple[Waiting, list[forms.BoundField], int]]:
        """Each put-up or line that waits, its five counts, and what they come to as the page opens."""
        groups = []
        for line in self.waiting:
            fields = [self[self.name(line, outcome)] for outcome in Outcome]
            groups.append((line, fields, sum(_whole(field.value()) for field in fields)))
        return groups

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for line in self.waiting:
            counted = sum(cleaned.get(self.name(line, outcome)) or 0 for outcome in Outcome)
            if counted > line.pieces:
                self.add_error(
                    self.name(line, Outcome.GOOD),
                    f"These come to {counted}, and {line.pieces} wait. Lower them until they come to {line.pieces} or less.",
                )
        return cleaned

    @property
    def counts(self) -> dict[tuple[int, str], int]:
        """Pieces by put-up and outcome, of what is not judged line by line."""
        return {
            (line.put_up.pk, outcome): pieces
            for line, outcome, pieces in self._counted()
            if line.load is None
        }

    @property
    def by_line(self) -> dict[tuple[int, str], int]:
        """Pieces by line and outcome."""
        return {
            (line.load.pk, outcome): pieces
            for line, outcome, pieces in self._counted()
            if line.load is not None
        }

    def _counted(self) -> Iterator[tuple[Waiting, str, int]]:
        for line in self.waiting:
            for outcome in Outcome:
                yield line, outcome.value, self.cleaned_data.get(self.name(line, outcome)) or 0


def _whole(value: Any) -> int:
    text = str(value or "0")
    return int(text) if text.isdecimal() and len(text) < 6 else 0


class TakeBackForm(forms.Form):
    """Why a judgement is taken back."""

    key = KeyField()
    why = forms.CharField(
        label="Why it is taken back",
        max_length=300,
        error_messages={"required": "Say in a few words why, for example “counted wrong”."},
    )


class LotPhotoForm(forms.Form):
    """A photo of a lot in daylight."""

    key = KeyField()
    photo = forms.FileField(error_messages={"required": "Take or choose a photo first."})
