"""What each row of a file says by itself: a sign-up, or a line of an order. The house is not asked here."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from zoneinfo import ZoneInfo

from dyehouse.studio.money import places_of
from inventory.promises.files.fields import FIELDS
from inventory.promises.models import Payment
from recipes.dyeing.families import family_called
from recipes.dyeing.fibres import FIBRES
from recipes.dyeing.units import NumberUnclear, parse_decimal
from recipes.lists.cells import Cells, Wrong
from recipes.lists.reading import Table, column_key

MOST_BOXES = 1_000
MOST_MONTHS = 60
#: What people write for a country though it is not its code in ISO 3166-1.
COUNTRY_WORDS = {"UK": "GB", "EL": "GR"}
PAID_WORDS: Mapping[str, str] = {
    "": Payment.Kind.DUE,
    **dict.fromkeys(("paid", "full", "yes", "complete", "completed", "y", "true"), Payment.Kind.PAID),
    **dict.fromkeys(("deposit", "part", "partly paid"), Payment.Kind.DEPOSIT),
    **dict.fromkeys(("failed", "declined", "card failed", "error"), Payment.Kind.FAILED),
    **dict.fromkeys(("refunded", "refund"), Payment.Kind.REFUNDED),
    **dict.fromkeys(("due", "pending", "unpaid", "no", "n", "open", "false"), Payment.Kind.DUE),
}
YES_NO = {
    **dict.fromkeys(("yes", "y", "true", "1", "x", "same"), True),
    **dict.fromkeys(("no", "n", "false", "0"), False),
}
# Whose row it is. Where a row of an order leaves all of these empty, the buyer of the order's first row is meant.
WHOSE = (
    "email",
    "name",
    "company",
    "street",
    "street_more",
    "city",
    "region",
    "postcode",
    "country",
    "phone",
)
# Signs that turn the text after them round; in a name they are a mistake or a trick.
_TURNING = {*map(chr, range(0x202A, 0x202F)), *map(chr, range(0x2066, 0x206A)), "\u200e", "\u200f"}
_ADDRESS = re.compile(r"[^@\s]+@[^@\s]+\.[^@\s]+")


@dataclass(frozen=True, slots=True)
class Whose:
    """The person of a row as the file names them."""

    email: str = ""
    name: str = ""
    company: str = ""
    street: str = ""
    city: str = ""
    region: str = ""
    postcode: str = ""
    country: str = ""
    phone: str = ""


@dataclass(frozen=True, slots=True)
class FileRow:
    """One row. `position` counts the rows of the same order; `digest` is of all that the row says.

    `club`, `level`, `product` and `base` are words of the file; what they mean here is asked of the column map. `price` is in
    the currency's smallest unit. `questions` are what was read all the same and somebody should look at.
    """

    row: int
    number: str
    position: int
    digest: str
    whose: Whose
    placed_at: dt.datetime | None
    count: int
    paid: str
    club: str = ""
    level: str = ""
    product: str = ""
    base: str = ""
    gift_for: str = ""
    gift_note: str = ""
    note: str = ""
    avoids_families: tuple[str, ...] = ()
    avoids_fibres: tuple[str, ...] = ()
    same_pot: bool | None = None
    months: int | None = None
    price_minor: int | None = None
    questions: tuple[str, ...] = ()


@dataclass(slots=True)
class _Reader:
    """Reads the rows of one file one after the other, knowing the rows of the same order above."""

    kind: str
    columns: Mapping[str, str]
    day_order: str
    zone: ZoneInfo
    currency: str
    words: Mapping[str, Mapping[str, str]]
    first_of: dict[str, FileRow] = field(default_factory=dict)
    positions: dict[str, int] = field(default_factory=dict)
    seen: dict[str, int] = field(default_factory=dict)

    def read(self, cells: Cells) -> FileRow | None:
        questions: list[str] = []
        number = cells.words("number", longest=60)
        if not number:
            cells.refuse("number", "Each row needs the number of its order, so that it is taken in once.")
            return None
        position = self.positions[number] = self.positions.get(number, 0) + 1
        digest = _digest(cells.values)
        if any(cells.typed(key) for key in WHOSE if key != "country") and digest in self.seen:
            cells.refuse("number", f"This row is the same as row {self.seen[digest]}. One of them is enough.")
            return None
        self.seen.setdefault(digest, cells.row)
        first = self.first_of.get(number)
        whose = self._whose(cells, first, questions)
        placed_at = self._moment(cells) if cells.typed("placed_at") else (first and first.placed_at)
        families, fibres = self._avoided(cells, questions)
        row = FileRow(
            row=cells.row,
            number=number,
            position=position,
            digest=digest,
            whose=whose,
            placed_at=placed_at or None,
            count=cells.count("count", most=MOST_BOXES) or 1,
            paid=self._paid(cells) if cells.typed("paid") or first is None else first.paid,
            club=cells.words("club", longest=80),
            level=cells.words("level", longest=80),
            product=cells.words("product", longest=120),
            base=cells.words("base", longest=80),
            gift_for=_without_turning(cells.words("gift_for", longest=120), questions),
            gift_note=cells.words("gift_note", longest=500),
            note=cells.words("note", longest=500),
            avoids_families=families,
            avoids_fibres=fibres,
            same_pot=self._same_pot(cells),
            months=cells.count("months", most=MOST_MONTHS),
            price_minor=self._price(cells),
        )
        self.first_of.setdefault(number, row)
        return replace(row, questions=tuple(questions))

    def _whose(self, cells: Cells, first: FileRow | None, questions: list[str]) -> Whose:
        own = [key for key in WHOSE if key != "country" and cells.typed(key)]
        if not own and first is not None:
            return first.whose
        email = cells.words("email", longest=254).casefold()
        if email and not _ADDRESS.fullmatch(email):
            cells.refuse(
                "email", "This is not an e-mail address. Write one like name@example.org, or leave it empty."
            )
        name = _without_turning(cells.words("name", longest=120), questions)
        if not email and not name:
            cells.refuse(
                "email" if "email" in self.columns else "name",
                "Nobody is named here: write an e-mail or a name.",
            )
        elif not email:
            questions.append("No e-mail: this person is known by name and postcode only.")
        if any("?" in cells.typed(key) for key in ("name", "street", "city")) or "�" in name:
            questions.append(
                "A question mark stands in the name or address: a letter may have been lost on the way."
            )
        country = cells.words("country", longest=60).upper()
        if country in COUNTRY_WORDS:
            country = COUNTRY_WORDS[country]
        if country and not re.fullmatch("[A-Z]{2}", country):
            cells.refuse("country", "Write the country by its two letters, for example GB or DE.")
        street = "\n".join(
            filter(None, (cells.words("street", longest=300), cells.words("street_more", longest=120)))
        )
        return Whose(
            email=email,
            name=name,
            company=cells.words("company", longest=120),
            street=street,
            city=cells.words("city", longest=80),
            region=cells.words("region", longest=80),
            postcode=cells.words("postcode", longest=20),
            country=country,
            phone=cells.words("phone", longest=40),
        )

    def _moment(self, cells: Cells) -> dt.datetime | None:
        """A moment or a day as ISO 8601 writes it, or a day in the file's own order; a day alone is its noon here."""
        typed = cells.typed("placed_at")
        try:
            moment = dt.datetime.fromisoformat(typed)
        except ValueError:
            moment = None
        if moment is None:
            day = self._day(cells, typed)
            if day is None:
                return None
            moment = dt.datetime.combine(day, dt.time(12))
        elif len(typed) <= len("2026-01-01"):
            moment = moment.replace(hour=12)
        if not 2000 <= moment.year <= 2100:
            cells.refuse("placed_at", "This year is not one that anybody ordered in. Check it.")
            return None
        return moment if moment.tzinfo is not None else moment.replace(tzinfo=self.zone)

    def _day(self, cells: Cells, typed: str) -> dt.date | None:
        found = re.fullmatch(r"(\d{1,2})[./-](\d{1,2})[./-](\d{4})(?:[ ,T].*)?", typed, re.ASCII)
        if found is None:
            cells.refuse("placed_at", "Write the day as year, month and day: 2026-03-14.")
            return None
        one, two, year = (int(part) for part in found.groups())
        if one <= 12 and two <= 12 and one != two and not self.day_order:
            cells.refuse(
                "placed_at",
                "This can be read in two ways. Say above whether the day or the month stands first.",
            )
            return None
        month_first = self.day_order == "mdy" or (not self.day_order and two > 12)
        month, day = (one, two) if month_first else (two, one)
        try:
            return dt.date(year, month, day)
        except ValueError:
            cells.refuse("placed_at", "There is no such day. Write it as year, month and day: 2026-03-14.")
            return None

    def _paid(self, cells: Cells) -> str:
        typed = cells.typed("paid").casefold()
        told = self.words.get("paid", {}).get(typed) or PAID_WORDS.get(typed)
        if told is None:
            cells.refuse(
                "paid",
                "Say below what this word means: paid, deposit paid, failed, given back or not paid yet.",
            )
            return Payment.Kind.DUE
        return told

    def _same_pot(self, cells: Cells) -> bool | None:
        typed = cells.typed("same_pot").casefold()
        if not typed:
            return None
        told = self.words.get("same_pot", {}).get(typed)
        if told in ("yes", "no"):
            return told == "yes"
        if typed not in YES_NO:
            cells.refuse("same_pot", "Say below what this word means: yes, or no.")
            return None
        return YES_NO[typed]

    def _avoided(self, cells: Cells, questions: list[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
        families, fibres = set(), set()
        for part in re.split(r"[;,/]|\band\b", cells.typed("avoid")):
            word = re.sub(r"^(no|not|avoid|without)\s+", "", " ".join(part.split()).casefold())
            if not word or word in ("none", "nothing", "no"):
                continue
            told = self.words.get("avoid", {}).get(word, "")
            family = told.removeprefix("family:") if told.startswith("family:") else family_called(word)
            fibre = told.removeprefix("fibre:") if told.startswith("fibre:") else _fibre_called(word)
            if family:
                families.add(family)
            elif fibre:
                fibres.add(fibre)
            elif told != "nothing":
                questions.append(f"“{word}” is no colour family and no fibre; it is kept as a note.")
        return tuple(sorted(families)), tuple(sorted(fibres))

    def _price(self, cells: Cells) -> int | None:
        typed = re.sub(r"^[^\d.,+-]+|[^\d.,]+$", "", cells.typed("price"))
        if not cells.typed("price"):
            return None
        currency = cells.typed("currency").upper() or self.currency
        try:
            number = parse_decimal(typed)
        except NumberUnclear as unclear:
            cells.refuse("price", str(unclear))
            return None
        minor = number.scaleb(places_of(currency))
        if minor != minor.to_integral_value() or not 0 <= minor <= Decimal(10**9):
            cells.refuse("price", f"This is not a price in {currency}. Write one like 28.00.")
            return None
        return int(minor)


def read_rows(
    table: Table,
    *,
    kind: str,
    columns: Mapping[str, str],
    words: Mapping[str, Mapping[str, str]],
    day_order: str,
    zone: ZoneInfo,
    currency: str,
) -> tuple[list[FileRow], list[Wrong]]:
    """The rows of a file that can be read, and what is wrong with the others, cell by cell.

    `columns` says under which heading each field stands, `words` what words of the file mean, `day_order` ("dmy", "mdy" or
    empty) how its days are written where they are not ISO 8601.
    """
    at = {column_key(heading): index for index, heading in reversed(list(enumerate(table.header)))}
    names = {field.key: columns.get(field.key) or field.words for field in FIELDS[kind]}
    reader = _Reader(kind, columns, day_order, zone, currency, words)
    rows: list[FileRow] = []
    wrong: list[Wrong] = []
    for number, texts in table.rows:
        values = {
            field.key: texts[at[column_key(columns[field.key])]]
            for field in FIELDS[kind]
            if columns.get(field.key)
            and column_key(columns[field.key]) in at
            and at[column_key(columns[field.key])] < len(texts)
        }
        cells = Cells(number, values, names)
        said = reader.read(cells)
        if cells.wrong:
            wrong.extend(cells.wrong)
        elif said is not None:
            rows.append(said)
    return rows, wrong


def words_of(rows: Sequence[FileRow], key: str) -> list[str]:
    """The different words that the rows have in one field, as they stand there first."""
    return list(dict.fromkeys(word for row in rows if (word := getattr(row, key))))


def _digest(values: Mapping[str, str]) -> str:
    plain = json.dumps(sorted((key, value) for key, value in values.items() if value), ensure_ascii=False)
    return hashlib.sha256(plain.encode()).hexdigest()


def _without_turning(typed: str, questions: list[str]) -> str:
    plain = "".join(sign for sign in typed if sign not in _TURNING)
    if plain != typed:
        questions.append("A sign that turns text round stood in the name and was left out.")
    return unicodedata.normalize("NFC", plain)


def _fibre_called(word: str) -> str | None:
    for fibre in FIBRES:
        if word in (fibre.slug, fibre.name):
            return fibre.slug
    return None
