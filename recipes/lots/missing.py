"""What is not known of a pot and would be wanted to dye it again, by name, and how each is answered."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from recipes.dyeing.classes import process_for
from recipes.dyeing.programme import NO_COOLING, NO_RISE, Logged, programme_from_log
from recipes.lots.beside import EARLIER_BATH
from recipes.lots.contents import PotContents
from recipes.lots.fibre_kinds import kinds_of
from recipes.lots.load_words import before_words
from recipes.lots.models import Judgement, LogEntry, Photo, Pot, PotLoad
from recipes.models import Auxiliary, Dye

Kind = LogEntry.Kind

#: Dyes that are not set with acid, where their fibre does not say otherwise.
NEEDS_NO_ACID = (Dye.Class.COLD_REACTIVE, Dye.Class.OTHER_REACTIVE, Dye.Class.DIRECT)
SETTING = (Auxiliary.Role.ACID, Auxiliary.Role.ACID_DONOR, Auxiliary.Role.ALKALI)


@dataclass(frozen=True, slots=True)
class Missing:
    """One thing that is not known: its slug and name, what is not known and why it matters, and how it is answered.

    `how` is text, minutes, grams, litres, vessel, line (a pot line), heat, photo, link (answered on another page) or
    fixed (by dyeing again only).
    """

    slug: str
    name: str
    sentence: str
    how: str
    example: str = ""
    choices: tuple[str, ...] = ()


MILL_LOT = "mill-lot"
DYED_BEFORE = "dyed-before"
BATH_USED_AGAIN = "bath-used-again"
DRY_WEIGHT = "dry-weight"
PRESOAK = "pre-soak"
VESSEL = "vessel"
WATER = "water"
ORDER = "order"
ACID = "acid"
HEAT = "heat"
HEATING = "heating"
LAY = "lay"
CLEARED = "cleared"
COOLING = "cooling"
PHOTO = "photo"
VERDICT = "verdict"
NAMES = "names"
NO_ACID = "No acid was used"

#: Answers are notes of the log under these names, with who said it and when.
NOTED = {
    MILL_LOT: "mill lot",
    DRY_WEIGHT: "dry weight",
    PRESOAK: "pre-soak",
    VESSEL: "vessel",
    ORDER: "order and times",
    ACID: "acid",
    HEATING: "heating",
    LAY: "lay",
    COOLING: "cooling",
}
LAYS = ("Loose, covered by the bath", "Flat in a pan, dye poured on", "Hung from a rod, dipped")
COOLINGS = ("In the pot, overnight", "In the pot, to lukewarm", "Lifted out hot")


def what_is_missing(
    pot: Pot,
    *,
    loads: Sequence[PotLoad],
    entries: Sequence[LogEntry],
    contents: PotContents,
    has_photo: bool,
    has_verdict: bool,
) -> list[Missing]:
    """What is missing to dye a pot again, in the order that it is wanted. `entries` are those that count."""
    noted = {entry.name for entry in entries if entry.kind == Kind.NOTE and entry.name}
    found = [
        *_yarn(loads, noted),
        *_not_from_nothing(loads, entries),
        *_before_the_dye(pot, contents),
        *_additions(entries, contents, kinds_of(loads)),
        *_heat(entries),
        *_afterwards(pot, entries, contents, has_photo=has_photo, has_verdict=has_verdict),
    ]
    return [each for each in found if NOTED.get(each.slug) not in noted]


def missing_of(
    pot: Pot, *, loads: Sequence[PotLoad], entries: Sequence[LogEntry], contents: PotContents
) -> list[Missing]:
    """What is missing to dye a pot again, with its photos and verdicts read from the database."""
    photos = Photo.objects.filter(pot=pot)
    verdicts = Judgement.objects.none()
    if pot.dye_lot_id is not None:
        photos = photos | Photo.objects.filter(dye_lot=pot.dye_lot_id)
        verdicts = Judgement.objects.filter(dye_lot=pot.dye_lot_id, movement__reversed_by__isnull=True)
    return what_is_missing(
        pot,
        loads=loads,
        entries=entries,
        contents=contents,
        has_photo=photos.exists(),
        has_verdict=verdicts.exclude(verdict="").exists(),
    )


def _yarn(loads: Sequence[PotLoad], noted: Iterable[str]) -> list[Missing]:
    found = []
    if any(load.mill_lot.unknown for load in loads):
        found.append(
            Missing(
                MILL_LOT,
                "Mill lot",
                "Nobody has said which mill lot the yarn is from. Two lots of one base may take dye differently.",
                "text",
                "the number on the band",
            )
        )
    if any(not load.weighed for load in loads):
        found.append(
            Missing(
                DRY_WEIGHT,
                "Dry weight",
                "The weight is the put-up's, not weighed. The amounts by the fibre go by it.",
                "grams",
                "498",
            )
        )
    return found


def _not_from_nothing(loads: Sequence[PotLoad], entries: Sequence[LogEntry]) -> list[Missing]:
    """What the pot did not start from nothing with: yarn that was dyed before, and a bath that was used again."""
    found = []
    before = [f"{load.pieces} × {before_words(load)}" for load in loads if load.overdyes_id is not None]
    if before:
        found.append(
            Missing(
                DYED_BEFORE,
                "Undyed yarn",
                f"It was overdyed: {', '.join(before)}. From undyed yarn the same amounts give another colour.",
                "fixed",
            )
        )
    bath = next((each for each in entries if each.kind == Kind.NOTE and each.name == EARLIER_BATH), None)
    if bath is not None:
        found.append(
            Missing(
                BATH_USED_AGAIN,
                "Fresh bath",
                f"{bath.text}. What that still held of its dye comes on top of these amounts.",
                "fixed",
            )
        )
    return found


def _before_the_dye(pot: Pot, contents: PotContents) -> list[Missing]:
    found = []
    if pot.presoak_minutes is None:
        found.append(
            Missing(
                PRESOAK,
                "Pre-soak",
                "How long was the yarn soaked before? Dry spots take dye later and paler. Write 0 for not at all.",
                "minutes",
                "30",
            )
        )
    if pot.vessel_id is None:
        found.append(
            Missing(
                VESSEL, "Vessel", "Which vessel was it? Its width and hob set how the bath heats.", "vessel"
            )
        )
    if contents.bath_microlitres is None:
        found.append(
            Missing(
                WATER,
                "Water",
                "The log names no water, so the liquor ratio is not known.",
                "litres",
                "12",
            )
        )
    return found


def _additions(entries: Sequence[LogEntry], contents: PotContents, fibres: Sequence[str]) -> list[Missing]:
    found = []
    additions = [
        entry for entry in entries if entry.kind in (Kind.STOCK, Kind.POWDER, Kind.MIX, Kind.AUXILIARY)
    ]
    if not additions:
        found.append(
            Missing(
                ORDER,
                "Order and times",
                "The log has no addition: nothing says what made the colour.",
                "line",
                "5 ml red 1 % at 14:20",
            )
        )
    elif (
        len(additions) > 1
        and len({entry.happened_at.replace(second=0, microsecond=0) for entry in additions}) == 1
    ):
        found.append(
            Missing(
                ORDER,
                "Order and times",
                "All additions stand at the same minute. What came first, and how long apart?",
                "text",
                "acid 15 min after the dye, the rest 5 min apart",
            )
        )
    if contents.unlinked or contents.unweighed:
        named = ", ".join(
            dict.fromkeys(
                entry.typed or entry.name or entry.as_typed
                for entry in (*contents.unlinked, *contents.unweighed)
            )
        )
        found.append(
            Missing(
                NAMES,
                "Name, strength or weight",
                f"This cannot be reckoned with: {named}. Say on the pot's page what it was, or weigh it next time.",
                "link",
            )
        )
    if lacks_acid(contents, fibres):
        found.append(
            Missing(
                ACID,
                "Acid",
                "The log names no acid. Most dyes for wool are set with it.",
                "line",
                "50 ml vinegar at 14:35",
                (NO_ACID,),
            )
        )
    return found


def lacks_acid(contents: PotContents, fibres: Sequence[str] = ()) -> bool:
    """Whether a pot's dyes are set with acid, by their classes and fibres (slugs), and nothing that sets them is in.

    Cold reactive dye on wool takes acid too.
    """
    needed = not contents.dyes or any(
        each.dye.dye_class not in NEEDS_NO_ACID
        or any(process_for(each.dye.dye_class, [fibre]).kind == "acid" for fibre in fibres)
        for each in contents.dyes
    )
    return needed and not any(each.auxiliary.role in SETTING for each in contents.auxiliaries)


def _heat(entries: Sequence[LogEntry]) -> list[Missing]:
    gaps = [gap for gap in shown_heat(entries) if gap != NO_COOLING]
    if not gaps:
        return []
    if gaps == [NO_RISE]:
        return [Missing(HEATING, "Heating up", NO_RISE, "text", "an hour from cold, on half power")]
    return [Missing(HEAT, "Heat and hold", " ".join(gaps), "heat")]


def shown_heat(entries: Sequence[LogEntry]) -> tuple[str, ...]:
    """What the log does not show of the temperature programme, each as a sentence."""
    start = entries[0].happened_at if entries else timezone.now()
    return programme_from_log(logged_heat(entries, start)).gaps


def logged_heat(entries: Iterable[LogEntry], start: datetime) -> list[Logged]:
    """The readings and switchings of a log at whole minutes from its start, for its temperature programme."""
    return [
        Logged(
            int((entry.happened_at - start).total_seconds() // 60),
            entry.centi_celsius if entry.kind == Kind.TEMPERATURE else None,
            entry.heat_on if entry.kind == Kind.HEAT else None,
        )
        for entry in entries
        if entry.kind in (Kind.TEMPERATURE, Kind.HEAT)
    ]


def _afterwards(
    pot: Pot,
    entries: Sequence[LogEntry],
    contents: PotContents,
    *,
    has_photo: bool,
    has_verdict: bool,
) -> list[Missing]:
    found = []
    if not (pot.lay or pot.lay_plan):
        found.append(
            Missing(
                LAY, "Lay", "How did the pieces lie? It decides where the colour goes.", "text", LAYS[0], LAYS
            )
        )
    if not pot.bath_at_end and contents.cleared_at is None:
        found.append(
            Missing(
                CLEARED,
                "Cleared",
                "Was the bath clear at the end? It is asked when the pieces come out.",
                "link",
            )
        )
    if not pot.cooling:
        found.append(
            Missing(
                COOLING,
                "Cooling",
                "How did it cool? Some colour strikes only then.",
                "text",
                COOLINGS[0],
                COOLINGS,
            )
        )
    if not has_photo:
        found.append(Missing(PHOTO, "Photo", "There is no picture to hold the next one against.", "photo"))
    if not has_verdict:
        found.append(
            Missing(
                VERDICT,
                "Verdict",
                "Nobody has said yet how it came out dry."
                if pot.state == "out"
                else "How it came out is judged when the pieces are out and dry.",
                "link",
            )
        )
    return found
