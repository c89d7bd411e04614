"""What a pot's log says of the yarn itself: laid on by hand, sprinkled on, in little bath, and which hank saw what."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from fractions import Fraction

from django.utils import timezone

from recipes.dyeing.gradient import Addition, HankInBath, Moved, hanks_in_bath
from recipes.dyeing.laid_on import PowderPutOn, laid_on_per_100_g, powder_put_on
from recipes.dyeing.lay import Lay, share_of_words
from recipes.dyeing.techniques import on_section
from recipes.dyeing.working import Figure
from recipes.lots.contents import PotContents
from recipes.lots.laying import lay_of
from recipes.lots.models import LogEntry, Pot
from recipes.lots.redye_amounts import studio_bench
from recipes.lots.wording import entry_words

Kind = LogEntry.Kind

#: Techniques that tell how what follows goes on, until another one of them.
MODES = ("immersion", "low_immersion", "hand_paint", "speckle", "glaze", "overdye")
#: Litres on a kilogram of fibre that skeins in an open pot span; a summary of published hand-dyers' sheets.
OPEN_POT = (20, 40)
POURED = (Kind.STOCK, Kind.MIX)


@dataclass(frozen=True, slots=True)
class Painted:
    """What was laid on one section, or all over: so much, and what that is on 100 g of the fibre under it."""

    where: str
    microlitres: int
    figure: Figure[Fraction] | None
    unmeasured: int = 0


@dataclass(frozen=True, slots=True)
class Speckled:
    """One sprinkling of powder, and how well its weight is known."""

    words: str
    figure: Figure[PowderPutOn]


@dataclass(frozen=True, slots=True)
class HankRow:
    """Hanks that saw the same: their numbers, when they entered and left, and what they saw."""

    hanks: str
    entered: datetime | None
    left: datetime | None
    minutes: int
    found: tuple[str, ...]
    saw: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PutOn:
    """All of it for one pot."""

    lay: Lay | None
    painted: list[Painted] = field(default_factory=list)
    speckled: list[Speckled] = field(default_factory=list)
    hanks: list[HankRow] = field(default_factory=list)
    in_little_bath: str = ""

    @property
    def says_something(self) -> bool:
        return bool(self.painted or self.speckled or self.hanks or self.in_little_bath)


def what_was_put_on(
    pot: Pot,
    *,
    kept: Sequence[LogEntry],
    contents: PotContents,
    now: datetime | None = None,
    us: bool = False,
) -> PutOn:
    """What the entries that count say of the yarn. No query, but one for the studio's scales where powder was sprinkled on."""
    lay = lay_of(pot, kept)
    how = _how(kept)
    return PutOn(
        lay=lay,
        painted=_painted([e for e in kept if how.get(e.pk) == "hand_paint"], lay, contents),
        speckled=_speckled([e for e in kept if how.get(e.pk) == "speckle"], contents, us),
        hanks=_hanks(pot, kept, contents, now or timezone.now(), us),
        in_little_bath=_in_little_bath(kept, contents),
    )


def _how(kept: Sequence[LogEntry]) -> dict[int, str]:
    """How each addition of dye was put on: as it says, else by the technique that went before it."""
    found: dict[int, str] = {}
    mode = ""
    for entry in kept:
        if entry.kind == Kind.TECHNIQUE and entry.technique in MODES:
            mode = entry.technique
        elif entry.kind == Kind.POWDER:
            found[entry.pk] = entry.technique or ("speckle" if mode == "speckle" else "")
        elif entry.kind in POURED:
            found[entry.pk] = entry.technique or (mode if mode != "speckle" else "")
    return found


def _painted(laid: Sequence[LogEntry], lay: Lay | None, contents: PotContents) -> list[Painted]:
    by_section: dict[str, list[LogEntry]] = {}
    for entry in laid:
        if entry.kind in POURED:
            by_section.setdefault(entry.section, []).append(entry)
    rows = [_one_painted(section, entries, lay, contents) for section, entries in by_section.items()]
    if len(rows) > 1:
        everything = sum(row.microlitres for row in rows)
        figure = _laid(everything, contents, Fraction(1))
        rows.append(Painted("in all", everything, figure, sum(row.unmeasured for row in rows)))
    return rows


def _one_painted(
    section: str, entries: Sequence[LogEntry], lay: Lay | None, contents: PotContents
) -> Painted:
    volume = sum(entry.microlitres or 0 for entry in entries)
    share = share_of_words(section, lay=lay, pieces=contents.pieces) if section else Fraction(1)
    return Painted(
        where=on_section(section) or "all over",
        microlitres=volume,
        figure=_laid(volume, contents, share),
        unmeasured=sum(1 for entry in entries if not entry.microlitres),
    )


def _laid(microlitres: int, contents: PotContents, share: Fraction | None) -> Figure[Fraction] | None:
    if not microlitres or not contents.dry_milligrams or not share:
        return None
    return laid_on_per_100_g(microlitres=microlitres, dry_milligrams=contents.dry_milligrams, share=share)


def _speckled(sprinkled: Sequence[LogEntry], contents: PotContents, us: bool) -> list[Speckled]:
    weighed = [entry for entry in sprinkled if entry.milligrams]
    if not weighed:
        return []
    scales = studio_bench()
    return [
        Speckled(
            entry_words(entry, us=us),
            powder_put_on(
                milligrams=entry.milligrams or 0,
                step_milligrams=scales.scale_step(
                    Fraction(entry.jar_before_milligrams or entry.milligrams or 0)
                ),
                dry_milligrams=contents.dry_milligrams or None,
                jar_before_milligrams=entry.jar_before_milligrams,
                jar_after_milligrams=entry.jar_after_milligrams,
            ),
        )
        for entry in weighed
    ]


def _in_little_bath(kept: Sequence[LogEntry], contents: PotContents) -> str:
    if not any(entry.kind == Kind.TECHNIQUE and entry.technique == "low_immersion" for entry in kept):
        return ""
    if contents.liquor_ratio is None:
        return "In little bath. The water is not written down yet, so the liquor ratio is not known."
    least, most = OPEN_POT
    if contents.liquor_ratio.value >= least:
        return f"Called low immersion, yet the bath is that of an open pot, which is {least}:1 to {most}:1."
    return f"In little bath; skeins in an open pot have {least}:1 to {most}:1."


def _hanks(
    pot: Pot, kept: Sequence[LogEntry], contents: PotContents, now: datetime, us: bool
) -> list[HankRow]:
    moves = [entry for entry in kept if entry.kind == Kind.TECHNIQUE and entry.technique in ("enter", "lift")]
    if not moves or not contents.pieces:
        return []
    start = min(entry.happened_at for entry in kept)
    ended = pot.out_at or now

    def at(moment: datetime) -> int:
        return int((moment - start).total_seconds())

    additions = [
        Addition(at(entry.happened_at), entry_words(entry, us=us))
        for entry in kept
        if entry.kind in (Kind.STOCK, Kind.POWDER, Kind.MIX, Kind.AUXILIARY)
    ]
    hanks = hanks_in_bath(
        pieces=contents.pieces,
        moves=[_moved(entry, at(entry.happened_at)) for entry in moves],
        additions=additions,
        start=0,
        end=max(at(ended), 0),
    )
    return _together(hanks, start)


def _moved(entry: LogEntry, at: int) -> Moved:
    numbers = tuple(
        int(name.split()[1])
        for name in entry.section.split(", ")
        if name.startswith("skein ") and name.split()[1].isdigit()
    )
    return Moved(at, entry.technique == "enter", entry.hanks, numbers)


def _together(hanks: Sequence[HankInBath], start: datetime) -> list[HankRow]:
    """Hanks that saw the same in one row, in the order of their numbers."""
    groups: list[list[HankInBath]] = []
    for hank in hanks:
        if groups and _same(groups[-1][-1], hank):
            groups[-1].append(hank)
        else:
            groups.append([hank])
    return [_row(group, start) for group in groups]


def _same(one: HankInBath, other: HankInBath) -> bool:
    def saw(hank: HankInBath) -> tuple[object, ...]:
        return hank.entered_at, hank.left_at, hank.seconds, hank.found, hank.saw

    return saw(one) == saw(other)


def _row(group: Sequence[HankInBath], start: datetime) -> HankRow:
    first, last = group[0], group[-1]
    numbers = f"Hank {first.number}" if len(group) == 1 else f"Hanks {first.number} to {last.number}"

    def moment(seconds: int | None) -> datetime | None:
        return None if seconds is None else start + timedelta(seconds=seconds)

    return HankRow(
        hanks=numbers,
        entered=moment(first.entered_at),
        left=moment(first.left_at),
        minutes=first.seconds // 60,
        found=tuple(each.words for each in first.found),
        saw=tuple(each.words for each in first.saw),
    )
