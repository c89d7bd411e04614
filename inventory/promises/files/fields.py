"""What a file may tell of a sign-up or an order, and the headings under which such things stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from inventory.promises.models import ColumnMap
from recipes.lists.reading import column_key


@dataclass(frozen=True, slots=True)
class Field:
    """One thing a row may say: its key, its words on the page, and headings that mean it."""

    key: str
    words: str
    needed: bool = False
    headings: tuple[str, ...] = ()

    def is_meant_by(self, heading: str) -> bool:
        return column_key(heading) in {column_key(self.words), *self.headings}


_WHOSE = (
    Field(
        "number", "Order number", True, ("order no", "order", "order id", "ref", "reference", "number", "no")
    ),
    Field(
        "placed_at", "Placed on", False, ("placed at", "date", "order date", "created at", "day", "ordered")
    ),
    Field("email", "E-mail", False, ("e mail", "email", "email address", "mail", "buyer email", "buyer")),
    Field("name", "Name", False, ("name", "recipient", "full name", "customer", "buyer name", "ship to")),
    Field("company", "Company", False, ("company", "firm", "organisation", "organization")),
    Field("street", "Street", False, ("street", "address", "address 1", "address line 1", "street address")),
    Field(
        "street_more",
        "Second line of the street",
        False,
        ("address 2", "address line 2", "apartment", "unit"),
    ),
    Field("city", "Town", False, ("town", "city", "place")),
    Field("region", "Region", False, ("region", "state", "province", "county")),
    Field("postcode", "Postcode", False, ("postcode", "postal code", "zip", "zip code", "zipcode")),
    Field("country", "Country", False, ("country", "country code", "land")),
    Field("phone", "Telephone", False, ("telephone", "phone", "mobile")),
)
_MORE = (
    Field("base", "Base", False, ("base", "yarn", "variant", "option")),
    Field("count", "How many", False, ("how many", "qty", "quantity", "count", "units", "pieces")),
    Field("gift_for", "Gift for", False, ("gift for", "gift to", "gift recipient")),
    Field("gift_note", "Words for the gift", False, ("gift note", "gift message", "card")),
    Field("note", "Note", False, ("note", "notes", "comment", "comments", "remark")),
    Field("paid", "Paid", False, ("paid", "payment", "payment status", "financial status")),
)
SIGN_UPS = (
    *_WHOSE,
    Field("club", "Club", False, ("club", "subscription", "product")),
    Field("level", "Level", True, ("level", "tier", "plan", "size")),
    *_MORE,
    Field("avoid", "To avoid", False, ("please avoid", "avoid", "avoids", "dislikes", "allergies")),
    Field("same_pot", "Same pot", False, ("same pot", "same lot", "same dye lot")),
    Field("months", "Prepaid boxes", False, ("months", "prepaid", "prepaid months", "boxes", "term")),
)
ORDERS = (
    *_WHOSE,
    Field("product", "Product", True, ("product", "item", "title", "what")),
    *_MORE,
    Field("price", "Price each", False, ("price", "each", "unit price", "price each")),
    Field("currency", "Currency", False, ("currency",)),
)
FIELDS: Mapping[str, tuple[Field, ...]] = {
    ColumnMap.Kind.SIGN_UPS: SIGN_UPS,
    ColumnMap.Kind.ORDERS: ORDERS,
}
#: Words of these stand for something of the house; each word of a file is told once what it means here.
TOLD = {
    ColumnMap.Kind.SIGN_UPS: ("club", "level", "base", "paid", "same_pot", "avoid"),
    ColumnMap.Kind.ORDERS: ("product", "base", "paid"),
}


def guess_columns(kind: str, header: Sequence[str]) -> dict[str, str]:
    """Which heading each field most likely stands under: our field to the heading. Headings are taken once."""
    taken: dict[str, str] = {}
    for field in FIELDS[kind]:
        for heading in header:
            if heading and heading not in taken.values() and field.is_meant_by(heading):
                taken[field.key] = heading
                break
    return taken


def missing_fields(kind: str, columns: Mapping[str, str]) -> list[Field]:
    """The fields that must be told and are not: the needed ones, and one of e-mail and name."""
    missing = [field for field in FIELDS[kind] if field.needed and not columns.get(field.key)]
    if not columns.get("email") and not columns.get("name"):
        missing.append(next(field for field in FIELDS[kind] if field.key == "email"))
    return missing
