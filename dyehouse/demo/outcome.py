"""How the pots of the invented year came out: judged, taught from, put on the shelves, and mostly sold."""

from __future__ import annotations

import random
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from django.utils import timezone

from dyehouse.demo.book import Book, Taken, demo_key, write_rows
from dyehouse.demo.teaching import correct_some, write_way
from dyehouse.demo.telling import Told
from dyehouse.paper.models import PrintedCode, PrintRun
from dyehouse.studio.models import User
from recipes.lots.models import JudgedPieces, Judgement, Pot, ReferenceChoice
from recipes.models import DyedYarn, WayOfDyeing

WORDS = {
    "match": ("Beside the reference in the window: the same.", "Same.", ""),
    "close": (
        "A touch lighter.",
        "A little warmer, alternate skeins.",
        "Slightly deeper than the reference.",
    ),
    "no": ("Duller, the bath was too hot too soon.", "Far too blue."),
    "first": ("Keep this one.", "Better than planned.", "Good on this base."),
}


@dataclass(frozen=True, slots=True)
class Shelved:
    """Pieces of one pot and grade on a shelf since a time."""

    at: datetime
    pot: Told
    grade: str
    place: str
    pieces: int


@dataclass(slots=True)
class Outcome:
    """Tells what became of the pots."""

    book: Book
    chance: random.Random
    owner: User
    helper: User
    now: datetime
    pots: list[Told]
    shelves: tuple[str, ...]
    ways: dict[tuple[str, int], WayOfDyeing] = field(default_factory=dict)
    references: dict[tuple[str, int], Told] = field(default_factory=dict)

    def tell(self) -> None:
        """Judge what has dried, put the good on the shelves, sell most of it, and write everything."""
        judgements: list[tuple[Judgement, Told, dict[str, int]]] = []
        choices: list[ReferenceChoice] = []
        shelf: list[Shelved] = []
        for pot in self.pots:
            judged_at = pot.lot.made_at + timedelta(days=2, hours=6)
            if judged_at > self.now - timedelta(hours=3):
                continue
            self._learn(pot, judged_at, choices)
            outcome = self._outcomes(pot)
            judgements.append((self._judgement(pot, judged_at, outcome), pot, outcome))
            shelved_at = judged_at + timedelta(hours=20)
            if shelved_at < self.now - timedelta(days=3):
                shelf.extend(self._to_shelf(pot, shelved_at, outcome))
        self._label(shelf)
        self._sell(shelf)
        movements = self.book.write()
        for judgement, _, _ in judgements:
            judgement.movement = movements[judgement.key]
        write_rows([judgement for judgement, _, _ in judgements])
        write_rows(
            [
                JudgedPieces(judgement=judgement, put_up=pot.put_up, outcome=grade, pieces=pieces)
                for judgement, pot, outcome in judgements
                for grade, pieces in outcome.items()
            ]
        )
        write_rows(choices)
        Pot.objects.bulk_update(
            [pot.row for pot in self.pots],
            ["out_at", "dye_lot", "bath_at_end", "way"],
            batch_size=200,
        )
        correct_some(self.ways.values(), now=self.now, who=self.owner)

    def _outcomes(self, pot: Told) -> dict[str, int]:
        good, rest = pot.pieces, {}
        luck = self.chance.random()
        if luck < 0.16 and pot.pieces > 1:
            rest = {"second": 1}
        elif luck < 0.20 and pot.pieces > 2:
            rest = {"second": 1, "redye": 1}
        elif pot.plan.first and luck < 0.5 and pot.pieces > 1:
            rest = {"sample": 1}
        elif luck > 0.985:
            rest = {"bin": 1} if pot.pieces > 1 else {}
        good -= sum(rest.values())
        return {"good": good, **rest}

    def _judgement(self, pot: Told, at: datetime, outcome: dict[str, int]) -> Judgement:
        reference = self.references[pot.what]
        verdict = (
            "first"
            if reference is pot
            else self.chance.choices(("match", "close", "no"), weights=(70, 26, 4))[0]
        )
        key = demo_key("judge", pot.row.code)
        unjudged = self.book.dyed(pot.row.colourway, pot.put_up, "unjudged")
        taken: list[Taken] = []
        for grade, pieces in outcome.items():
            if grade == "bin":
                taken.append(Taken(unjudged.item, pot.lot.lot, pieces, "drying", "written_off"))
                continue
            graded = self.book.dyed(pot.row.colourway, pot.put_up, grade)
            taken.append(Taken(unjudged.item, pot.lot.lot, pieces, "drying", "consumed"))
            taken.append(Taken(graded.item, pot.lot.lot, pieces, "made", "dry"))
        self.book.post(
            at=at,
            key=key,
            why=f"Lot {pot.row.code} judged",
            source=f"lot:{pot.row.code}",
            who=self.owner,
            taken=taken,
        )
        return Judgement(
            key=key,
            dye_lot=pot.lot,
            judged_at=at,
            by=self.owner,
            verdict=verdict,
            against=None if reference is pot else reference.lot,
            words=self.chance.choice(WORDS[verdict]),
        )

    def _learn(self, pot: Told, at: datetime, choices: list[ReferenceChoice]) -> None:
        """The first pot of a colourway on a base is the one to repeat, and its way of dyeing is learned from it."""
        key = pot.what
        if key in self.references:
            pot.row.way = self.ways[key]
            return
        self.references[key] = pot
        choices.append(
            ReferenceChoice(
                colourway=pot.row.colourway,
                base=pot.put_up.base,
                dye_lot=pot.lot,
                chosen_at=at,
                by=self.owner,
            )
        )
        self.ways[key] = write_way(pot, at, self.owner)

    def _to_shelf(self, pot: Told, at: datetime, outcome: dict[str, int]) -> list[Shelved]:
        """The good to one shelf, seconds and samples to theirs; what is to redye waits where it is dry."""
        goes_to = {
            "good": self.chance.choice(self.shelves[:-2]),
            "second": self.shelves[-2],
            "sample": self.shelves[-1],
        }
        shelved = [
            Shelved(at, pot, grade, place, outcome[grade])
            for grade, place in goes_to.items()
            if outcome.get(grade)
        ]
        if shelved:
            self.book.post(
                at=at,
                key=demo_key("shelf", pot.row.code),
                why="To the shelf",
                source=f"lot:{pot.row.code}",
                who=self.helper if self.chance.random() < 0.4 else self.owner,
                taken=[
                    Taken(self._yarn(row).item, pot.lot.lot, row.pieces, "dry", row.place) for row in shelved
                ],
            )
        return [row for row in shelved if row.grade != "sample"]

    def _label(self, shelf: list[Shelved]) -> None:
        """A sheet of labels a day for the good that went to the shelves; the newest day's are still to print."""
        days: dict[datetime, dict[str, int]] = {}
        for row in shelf:
            if row.grade == "good":
                days.setdefault(row.at.replace(hour=21, minute=0), {})[row.pot.row.code] = row.pieces
        runs = [
            PrintRun(
                key=demo_key("labels", at),
                kind=PrintRun.Kind.YARN_LABELS,
                printed_at=at,
                printed_by=self.owner,
                count=sum(counts.values()),
                codes=list(counts),
                sheet="a4-3x8",
            )
            for at, counts in sorted(days.items())[:-1]
        ]
        write_rows(runs)
        write_rows(
            [
                PrintedCode(run=run, code=code, count=count)
                for run, (_, counts) in zip(runs, sorted(days.items())[:-1], strict=True)
                for code, count in counts.items()
            ]
        )

    def _yarn(self, row: Shelved) -> DyedYarn:
        return self.book.dyed(row.pot.row.colourway, row.pot.put_up, row.grade)

    def _sell(self, shelf: list[Shelved]) -> None:
        """Every fourth Saturday most of what lies on the shelves goes out."""
        sale = self.pots[0].plan.start + timedelta(days=20)
        there = sorted(shelf, key=lambda row: row.at)
        while sale < self.now - timedelta(days=10):
            kept: list[Shelved] = []
            for row in there:
                gone = min(
                    row.pieces, self.chance.choice((row.pieces, row.pieces, row.pieces, row.pieces - 1))
                )
                if row.at > sale - timedelta(days=1) or gone < 1:
                    kept.append(row)
                    continue
                self._sold(row, gone, sale)
                if row.pieces > gone:
                    kept.append(replace(row, pieces=row.pieces - gone))
            there, sale = kept, sale + timedelta(days=28)

    def _sold(self, row: Shelved, pieces: int, at: datetime) -> None:
        self.book.post(
            at=at,
            key=demo_key("sold", row.pot.row.code, row.grade, at.date()),
            why=f"Sold in the update of {timezone.localtime(at):%d %B %Y}",
            source=f"lot:{row.pot.row.code}",
            who=self.owner,
            taken=[Taken(self._yarn(row).item, row.pot.lot.lot, pieces, row.place, "customer")],
        )
