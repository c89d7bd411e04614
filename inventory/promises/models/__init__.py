"""What is promised, to whom, and how it leaves the house: one module a matter.

Nothing that only ever grows (changes of a round, payments, the ledger's claims) holds a person's name, address or words,
so that a person can be erased without touching history.
"""

from inventory.promises.models.boxes import Box, BoxPart, Payment, Pin, Spares, WhyHeld
from inventory.promises.models.clubs import (
    Club,
    Level,
    LevelExtra,
    LevelSlot,
    Membership,
    MembershipChange,
    Round,
    RoundChange,
    RoundColourway,
    SlotPutUp,
)
from inventory.promises.models.days import LaidDay
from inventory.promises.models.giving import WorkedOut
from inventory.promises.models.orders import Offer, Order, OrderChange, OrderLine, Product, ShopTerms
from inventory.promises.models.parcels import PackedPieces, Parcel, ParcelBox, ParcelEvent, PickBatch
from inventory.promises.models.people import DifferentPeople, ErasedMark, Person, PrivacyRequest
from inventory.promises.models.taking_in import ColumnMap, TakenRow, TakingIn

__all__ = [
    "Box",
    "BoxPart",
    "Club",
    "ColumnMap",
    "DifferentPeople",
    "ErasedMark",
    "LaidDay",
    "Level",
    "LevelExtra",
    "LevelSlot",
    "Membership",
    "MembershipChange",
    "Offer",
    "Order",
    "OrderChange",
    "OrderLine",
    "PackedPieces",
    "Parcel",
    "ParcelBox",
    "ParcelEvent",
    "Payment",
    "Person",
    "PickBatch",
    "Pin",
    "PrivacyRequest",
    "Product",
    "Round",
    "RoundChange",
    "RoundColourway",
    "ShopTerms",
    "SlotPutUp",
    "Spares",
    "TakenRow",
    "TakingIn",
    "WhyHeld",
    "WorkedOut",
]
