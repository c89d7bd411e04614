"""A file looked through against the house: what each row would do, what is wrong, which words must be told. Nothing changes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from dyehouse.studio.models import Studio
from dyehouse.studio.money import format_money
from inventory.promises.addresses import address_faults, has_address
from inventory.promises.erased import all_marks, digest_of
from inventory.promises.files.fields import FIELDS, Field, guess_columns, missing_fields
from inventory.promises.files.meaning import Meanings, UnknownWord, unknown_words
from inventory.promises.files.rows import FileRow, Whose, read_rows
from inventory.promises.models import (
    ColumnMap,
    Level,
    Membership,
    Offer,
    OrderLine,
    Person,
    TakenRow,
)
from recipes.lists.cells import Wrong
from recipes.lists.reading import Table, column_key, read_table, text_of
from recipes.models import Base

MEGABYTE = 1024 * 1024
MOST_BYTES = 8 * MEGABYTE
MOST_ROWS = 10_000
NEW, CHANGED, SAME = "new", "changed", "same"


@dataclass(frozen=True, slots=True)
class Planned:
    """A row that can be taken in: what it means here, what it would do, and what it asks."""

    row: FileRow
    deed: str
    says: tuple[str, ...]
    questions: tuple[str, ...]
    level: Level | None = None
    base: Base | None = None
    offer: Offer | None = None
    taken: TakenRow | None = None


@dataclass(slots=True)
class Looked:
    """A file as it was looked through."""

    table: Table
    columns: Mapping[str, str]
    missing: list[Field]
    planned: list[Planned] = field(default_factory=list)
    wrong: list[Wrong] = field(default_factory=list)
    unknown: list[UnknownWord] = field(default_factory=list)
    meanings: Meanings | None = None

    def count(self, deed: str) -> int:
        return sum(each.deed == deed for each in self.planned)

    @property
    def to_take(self) -> list[Planned]:
        return [each for each in self.planned if each.deed != SAME]

    @property
    def rows_wrong(self) -> int:
        return len({each.row for each in self.wrong})


def table_of(content: bytes) -> Table:
    """The rows of a file as a shop gives it out. Raises FileRefused."""
    text = text_of(content, most_bytes=MOST_BYTES)
    return read_table(text, columns=None, most_rows=MOST_ROWS, most_bytes=MOST_BYTES)


def columns_for(column_map: ColumnMap, table: Table) -> dict[str, str]:
    """Under which heading each field stands: as it was told of the source, as far as the file has those headings."""
    headings = set(table.header)
    told = {key: heading for key, heading in column_map.columns.items() if column_key(heading) in headings}
    return told or guess_columns(column_map.kind, table.header)


def map_that_fits(kind: str, table: Table) -> ColumnMap | None:
    """The source told of last that has all its headings in this file."""
    headings = set(table.header)
    for known in ColumnMap.objects.filter(kind=kind).order_by("-pk"):
        wanted = {column_key(heading) for heading in known.columns.values()}
        if wanted and wanted <= headings:
            return known
    return None


def look_through(column_map: ColumnMap, table: Table) -> Looked:
    """What the file would do, row by row. A set number of queries, however many rows there are."""
    columns = columns_for(column_map, table)
    looked = Looked(table, columns, missing_fields(column_map.kind, columns))
    if looked.missing:
        return looked
    studio = Studio.current()
    rows, wrong = read_rows(
        table,
        kind=column_map.kind,
        columns=columns,
        words=column_map.words,
        day_order=column_map.day_order,
        zone=ZoneInfo(studio.time_zone),
        currency=studio.currency,
    )
    looked.meanings = Meanings.of(column_map)
    names = {each.key: columns.get(each.key) or each.words for each in FIELDS[column_map.kind]}
    house = _House.of(column_map, rows)
    unknown: list[UnknownWord] = []
    for row in rows:
        if row.whose.email and digest_of(row.whose.email) in house.erased:
            wrong.append(
                Wrong(
                    row.row,
                    names["email"],
                    row.whose.email,
                    "Somebody with this e-mail address asked to be erased.",
                )
            )
            continue
        said = _planned(row, looked.meanings, house, names)
        if isinstance(said, Wrong):
            wrong.append(said)
        elif isinstance(said, UnknownWord):
            unknown.append(said)
            word = f"Say above what “{said.word}” means here, or put it right in the file."
            wrong.append(Wrong(row.row, names[said.field], said.word, word))
        else:
            looked.planned.append(said)
    looked.unknown = unknown_words(unknown)
    looked.wrong = sorted(wrong, key=lambda each: each.row)
    return looked


@dataclass(slots=True)
class _House:
    """What the house knows of the rows of a file. Four queries."""

    taken: dict[tuple[str, int], TakenRow]
    people: dict[str, Person]
    erased: set[str]

    @classmethod
    def of(cls, column_map: ColumnMap, rows: Sequence[FileRow]) -> _House:
        emails = {row.whose.email for row in rows if row.whose.email}
        taken = TakenRow.objects.filter(column_map=column_map).select_related(
            "membership__level",
            "membership__base",
            "membership__payer",
            "order_line__offer__product",
            "order__buyer",
        )
        people = Person.objects.filter(erased_at=None).exclude(email="").select_related("merged_into")
        return cls(
            taken={(row.order_number, row.position): row for row in taken},
            people={
                person.email: person.merged_into or person for person in people if person.email in emails
            },
            erased=all_marks(),
        )


def _planned(
    row: FileRow, meanings: Meanings, house: _House, names: Mapping[str, str]
) -> Planned | Wrong | UnknownWord:
    before = house.taken.get((row.number, row.position))
    level, base, offer = None, None, None
    if row.level:
        found = meanings.level(row)
        chosen = meanings.base(row)
        if isinstance(found, UnknownWord):
            return found
        if isinstance(chosen, UnknownWord):
            return chosen
        level, base = found, chosen
        refused = meanings.wrong_base(level, base)
        if refused:
            return Wrong(row.row, names["base"], row.base, refused)
    elif row.product:
        wanted = meanings.offer(row)
        if isinstance(wanted, UnknownWord):
            return wanted
        offer = wanted
    else:
        key = "level" if "level" in names else "product"
        return Wrong(row.row, names[key], "", f"This row needs its {names[key].lower()}.")
    questions = [*row.questions, *_asks_of_address(row.whose, house.people.get(row.whose.email), before)]
    if row.gift_for:
        questions.append("A gift: the address of who gets it is still to be asked for.")
    if before is None:
        return Planned(row, NEW, (), tuple(questions), level, base, offer)
    if before.digest == row.digest:
        return Planned(row, SAME, (), (), level, base, offer, before)
    if before.order_line is not None and before.order_line.cancelled_at is not None:
        questions.append("This line was cancelled here; it stays cancelled.")
    says = _differences(row, before, level, base, offer)
    return Planned(row, CHANGED, tuple(says), tuple(questions), level, base, offer, before)


def _asks_of_address(whose: Whose, person: Person | None, before: TakenRow | None) -> list[str]:
    asks: list[str] = []
    if whose.country or whose.street:
        said = {
            "street": whose.street,
            "city": whose.city,
            "country_area": whose.region,
            "postcode": whose.postcode,
        }
        asks.extend(address_faults(country=whose.country, said=said).values())
    other = person is not None and before is None and has_address(person) and whose.street
    if other and person is not None and (person.street, person.postcode) != (whose.street, whose.postcode):
        asks.append(f"{person} has another address here. The house's stays; change it on the person's page.")
    return asks


def _differences(
    row: FileRow, before: TakenRow, level: Level | None, base: Base | None, offer: Offer | None
) -> list[str]:
    said = []
    if before.membership is not None:
        said.extend(_of_membership(row, before.membership, level, base))
    if before.order_line is not None:
        said.extend(_of_line(row, before.order_line, offer))
    return said or ["what stands beside it: the person, the address, the payment or the note"]


def _of_membership(row: FileRow, membership: Membership, level: Level | None, base: Base | None) -> list[str]:
    pairs = (
        ("boxes a round", membership.count, row.count),
        ("level", membership.level, level),
        ("base", membership.base or "none", base or "none"),
        ("prepaid boxes", membership.prepaid_rounds or "none", row.months or "none"),
    )
    return [f"{what}: {was} becomes {will}" for what, was, will in pairs if was != will]


def _of_line(row: FileRow, line: OrderLine, offer: Offer | None) -> list[str]:
    currency = Studio.current().currency
    said = []
    if line.count != row.count:
        said.append(f"how many: {line.count} becomes {row.count}")
    if line.offer != offer:
        said.append(f"what: {line.offer} becomes {offer}")
    if row.price_minor is not None and line.each_minor != row.price_minor:
        was = "none" if line.each_minor is None else format_money(line.each_minor, currency)
        said.append(f"price: {was} becomes {format_money(row.price_minor, currency)}")
    return said
