"""What was printed as plain JSON and back, so that a print run comes out the same again years later.

Pictures are not kept in it: a label names its photo, and those of cards are handed in again by the code they belong to.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from dyehouse.paper.dye_card import CardAddition, Difference, DyeCard, HeatPoint, LayPart, StockToMix
from dyehouse.paper.own_pictures import photo_bytes
from dyehouse.paper.stickers import DayNumber, ShelfLabel
from dyehouse.paper.wet_tag import WetTag
from dyehouse.paper.yarn_label import YarnLabel

_PARTS: dict[str, type] = {
    "additions": CardAddition,
    "heat": HeatPoint,
    "stocks": StockToMix,
    "differences": Difference,
    "lay": LayPart,
}


def payload_of(
    printed: Sequence[YarnLabel | WetTag | DyeCard | DayNumber | ShelfLabel],
) -> list[dict[str, Any]]:
    """Labels, tags, stickers or cards word for word, without their pictures."""
    return [_plain(one) for one in printed]


def labels_from(payload: Sequence[Mapping[str, Any]]) -> list[YarnLabel]:
    """The labels that `payload_of` put down, with their pictures as far as they are still kept."""
    return [
        YarnLabel(
            **{
                **one,
                "must": tuple(one.get("must", ())),
                "picture": photo_bytes(one.get("photo", "")),
            }
        )
        for one in payload
    ]


def tags_from(payload: Sequence[Mapping[str, Any]]) -> list[WetTag]:
    """The wet tags that `payload_of` put down."""
    return [WetTag(**one) for one in payload]


def cards_from(
    payload: Sequence[Mapping[str, Any]], *, pictures: Mapping[str, bytes] | None = None
) -> list[DyeCard]:
    """The dye cards that `payload_of` put down, with their pictures by the pot's code."""
    found = []
    for one in payload:
        parts = {name: tuple(kind(**part) for part in one[name]) for name, kind in _PARTS.items()}
        words = {name: tuple(one.get(name, ())) for name in ("cautions", "workings", "look_for")}
        found.append(
            DyeCard(
                **{
                    **one,
                    **parts,
                    **words,
                    "heat_lines": tuple((at, said) for at, said in one.get("heat_lines", ())),
                    "liquor_ratio": Fraction(one["liquor_ratio"]),
                    "picture": (pictures or {}).get(one["code"]),
                }
            )
        )
    return found


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        return {
            part.name: _plain(getattr(value, part.name)) for part in fields(value) if part.name != "picture"
        }
    if isinstance(value, (Decimal, Fraction)):
        return str(value)
    if isinstance(value, (list, tuple)):
        return [_plain(part) for part in value]
    return value
