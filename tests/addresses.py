"""How to open the addresses that want something in their path: pattern name -> a function that makes its parts.

Every such address of the house stands here once, in the section of its room; the walk over all addresses
(tests/dyehouse/studio/test_every_address.py) fails on one that does not.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from inventory import matching
from recipes import yarn
from tests import factories
from tests.inventory import putup_factories
from tests.inventory.buying import factories as buying
from tests.inventory.costing import factories as costs
from tests.inventory.one_offs import factories as one_offs
from tests.inventory.promises import factories as promises
from tests.inventory.shows import factories as show_factories
from tests.inventory.weeks import factories as week_factories

WITH_PARTS: dict[str, Callable[[], dict[str, Any]]] = {}

# What the address answers to somebody who may open it, where that is not a page, a redirect or "POST only".
ANSWERS_OTHERWISE: dict[str, int] = {
    "look": 404,  # only where DEBUG is on
}

# --- Studio -----------------------------------------------------------------------------------------------------------


def _somebody() -> dict[str, Any]:
    return {"username": factories.HelperFactory().username}


WITH_PARTS |= {
    "person": _somebody,
    "person-password": _somebody,
    "person-may-sign-in": _somebody,
    "phone-end": lambda: {"pk": factories.phone_code()[0].pk},
}

# --- Store ------------------------------------------------------------------------------------------------------------


def _base() -> dict[str, Any]:
    return {"pk": factories.put_up(pieces=3).base_id}


def _put_up() -> dict[str, Any]:
    return {"pk": factories.put_up().pk}


def _mill_lot() -> dict[str, Any]:
    put_up = factories.put_up(pieces=3)
    return {"pk": put_up.base.mill_lots.get().pk, "put_up_pk": put_up.pk}


def _dye() -> dict[str, Any]:
    return {"pk": factories.jar().dye_id}


def _jar() -> dict[str, Any]:
    return {"pk": factories.jar().pk}


def _bottle() -> dict[str, Any]:
    return {"pk": factories.bottle().pk}


def _auxiliary() -> dict[str, Any]:
    return {"pk": factories.auxiliary(amount=500_000).pk}


def _mix() -> dict[str, Any]:
    return {"code": factories.mix().code}


WITH_PARTS |= {
    "base": _base,
    "base-change": _base,
    "base-retire": _base,
    "dye-retire": _dye,
    "auxiliary-retire": _auxiliary,
    "base-put-up": _base,
    "base-yarn-in": _base,
    "put-up": _put_up,
    "put-up-weigh": _put_up,
    "mill-lot": _mill_lot,
    "dye": _dye,
    "dye-change": _dye,
    "dye-jar": _dye,
    "dye-usual": _dye,
    "jar": _jar,
    "jar-weigh": _jar,
    "jar-tare": _jar,
    "jar-count": _jar,
    "jar-finish": _jar,
    "bottle": _bottle,
    "bottle-count": _bottle,
    "bottle-finish": _bottle,
    "auxiliary": _auxiliary,
    "auxiliary-change": _auxiliary,
    "auxiliary-in": _auxiliary,
    "auxiliary-count": _auxiliary,
    **dict.fromkeys(("mix", "mix-count", "mix-finish"), _mix),
}


# --- Buying -----------------------------------------------------------------------------------------------------------

WITH_PARTS |= {
    **dict.fromkeys(
        ("buying-order", "buying-lines", "buying-send", "buying-expect", "buying-short", "buying-arrive"),
        lambda: {"pk": buying.sent_order().pk},
    ),
    **dict.fromkeys(("buying-drop", "buying-list", "buying-paper"), lambda: {"pk": buying.draft().pk}),
    "buying-bill": lambda: {"pk": buying.delivery().pk},
    "buying-back": lambda: {"pk": buying.delivery().arrivals.get().pk},
    **dict.fromkeys(
        (
            "buying-supplier",
            "buying-supplier-change",
            "buying-supplier-away",
            "buying-closed",
            "buying-new",
            "buying-draft",
            "buying-offer-new",
        ),
        lambda: {"pk": buying.offer().supplier_id},
    ),
    **dict.fromkeys(("buying-offer", "buying-offer-away"), lambda: {"pk": buying.offer().pk}),
    "buying-closed-away": lambda: {"pk": buying.closed_weeks().pk},
}

# --- What stands ------------------------------------------------------------------------------------------------------


def _standing() -> dict[str, Any]:
    dyed = factories.shelved_lot()[2]
    return {"code": dyed.colourway.code, "put_up": dyed.put_up_id}


WITH_PARTS |= {
    "standing-dyed": _standing,
    "shelf-soak-back": lambda: {"code": factories.planned_pot().code},
    "standing-yarn": lambda: {"put_up": factories.put_up(pieces=3).pk},
    **dict.fromkeys(("one-off", "one-back"), lambda: {"code": one_offs.one_off().dye_lot.code}),
    **dict.fromkeys(("one-new", "one-rest"), lambda: {"code": factories.shelved_lot()[0].code}),
}


# --- Pots -------------------------------------------------------------------------------------------------------------


def _pot() -> dict[str, Any]:
    return {"code": factories.loaded_pot().code}


def _planned_pot() -> dict[str, Any]:
    return {"code": factories.planned_pot().code}


def _entry() -> dict[str, Any]:
    entry = factories.log_entry()
    return {"code": entry.pot.code, "key": entry.key}


def _photo() -> dict[str, Any]:
    return {"key": factories.pot_photo().key}


WITH_PARTS |= {
    **dict.fromkeys(
        (
            "pot",
            "pot-unload",
            "pot-weight",
            "pot-yarn",
            "pot-bath",
            "pot-left",
            "pot-lay",
            "pot-log",
            "pot-reading",
            "pot-tap",
            "pot-photo",
            "pot-again",
        ),
        _pot,
    ),
    "pot-usual": _pot,
    "pot-load": _planned_pot,
    "pot-step": lambda: {**_planned_pot(), "number": 1},
    **dict.fromkeys(("pot-entry-strike", "pot-entry-correct", "pot-entry-back", "pot-entry-answer"), _entry),
    "photo": _photo,
    "photo-small": _photo,
}

WITH_PARTS |= {"day-close-pot": _pot}

# --- Lots and the shelf -----------------------------------------------------------------------------------------------


def _lot() -> dict[str, Any]:
    return {"code": factories.lot_out().code}


def _lot_on_base() -> dict[str, Any]:
    lot = factories.lot_out()
    return {"code": lot.code, "base": lot.pots.get().loads.get().put_up.base_id}


def _judgement() -> dict[str, Any]:
    lot = factories.judged_lot()
    return {"code": lot.code, "pk": lot.judgements.get().pk}


def _lot_match() -> dict[str, Any]:
    lot = factories.lot_out()
    other = factories.lot_out(colourway=lot.colourway)
    match = matching.say_they_match(one=lot, other=other, who=factories.OwnerFactory())
    return {"code": lot.code, "pk": match.pk}


def _shelved() -> dict[str, Any]:
    lot, place, _ = factories.shelved_lot()
    return {"code": lot.code, "place": place.pk}


def _shelved_row() -> dict[str, Any]:
    lot, place, dyed = factories.shelved_lot()
    return {"code": lot.code, "dyed": dyed.pk, "place": place.pk}


WITH_PARTS |= {
    "pot-out": _pot,
    **dict.fromkeys(("lot", "lot-judge", "lot-photo"), _lot),
    "lot-repeat": _lot_on_base,
    "judgement-back": _judgement,
    "shelf-move": lambda: {"code": factories.judged_lot().code},
    "shelf-move-on": _shelved,
    **dict.fromkeys(("shelf-count", "hold-new", "call-it"), _shelved_row),
    **dict.fromkeys(
        ("hold", "hold-longer", "hold-let-go", "hold-over"), lambda: {"pk": factories.hand_hold().pk}
    ),
    **dict.fromkeys(("shelf-place", "shelf-place-close"), lambda: {"pk": factories.shelf_place().pk}),
    "opening-example": lambda: {"name": "yarn"},
    "kit": lambda: {"pk": factories.built_kit().kit_id},
    "kit-label": lambda: {"pk": factories.built_kit().kit_id},
    "kit-break": lambda: {"code": factories.built_kit().code},
    "shelf-way-move": lambda: {"code": "drying"},
    "lot-matches": _lot,
    "match-back": _lot_match,
    "matching-set": lambda: {"dyed": factories.shelved_lot()[2].pk},
    "count-start": lambda: {"pk": factories.shelf_place().pk},
    **dict.fromkeys(("count-round", "count-settle"), lambda: {"pk": factories.count_round().pk}),
    "trace": _lot,
    "trace-mill-lot": lambda: {"pk": yarn.add_mill_lot(base=factories.base(), number="M-12").pk},
    "trace-jar": lambda: {"pk": factories.jar().pk},
    "trace-bottle": lambda: {"pk": factories.bottle().pk},
    "trace-mix": lambda: {"code": factories.mix().code},
    "wet-tag": _pot,
    "labels-again": lambda: {"pk": factories.label_run().pk},
    "labels-outline": lambda: {"slug": "a4-3x8"},
}

# --- Paper ------------------------------------------------------------------------------------------------------------

WITH_PARTS |= {
    "label-fibres": lambda: {"pk": factories.base(fibres={"wool": 1000}).pk},
    **dict.fromkeys(
        ("long-printing", "long-printing-cancel"), lambda: {"key": factories.long_printing().key}
    ),
    **dict.fromkeys(("label-design", "label-design-drop"), lambda: {"pk": factories.label_design().pk}),
    "label-sample": lambda: {"slug": "tag"},
    **dict.fromkeys(
        ("sheet", "sheet-change", "sheet-drop"), lambda: {"slug": f"own-{factories.own_sheet().pk}"}
    ),
}

# --- Redyeing ---------------------------------------------------------------------------------------------------------

WITH_PARTS |= {
    "pot-drop": _planned_pot,
    "redye": lambda: {"code": factories.way().colourway.code},
    **dict.fromkeys(("redye-plan", "redye-sample"), lambda: {"pk": factories.redye_plan().pk}),
    "dye-card": lambda: {"code": factories.redye_plan().pots.first().code},
    "dye-cards": lambda: {"pk": factories.redye_plan().pk},
}

# --- Colourways and ways of dyeing ------------------------------------------------------------------------------------

WITH_PARTS |= {
    **dict.fromkeys(("way-new", "way-answer", "way-as-done"), _pot),
    **dict.fromkeys(
        ("colourway", "colourway-name", "colourway-secret", "colourway-families", "colourway-snip"),
        lambda: {"code": factories.colourway().code},
    ),
    **dict.fromkeys(("way", "way-correct", "way-photo"), lambda: {"pk": factories.way().pk}),
}

# --- Put-ups change ---------------------------------------------------------------------------------------------------


def _put_up_change() -> dict[str, Any]:
    return {"pk": putup_factories.put_up_change().pk}


WITH_PARTS |= {
    "putup-dyed": _shelved_row,
    "putup-undyed": _mill_lot,
    "putup-back": _put_up_change,
}

# --- Shows ------------------------------------------------------------------------------------------------------------


def _show() -> dict[str, Any]:
    return {"pk": show_factories.booth(4, taken=2).show.pk}


def _show_load() -> dict[str, Any]:
    made = show_factories.booth(4)
    return {"pk": made.show.pk, "load": made.take(2).pk}


WITH_PARTS |= {
    **dict.fromkeys(
        (
            "shows-show",
            "shows-change",
            "shows-call-off",
            "shows-pack",
            "shows-tally",
            "shows-back",
            "shows-open-again",
            "shows-takings",
            "shows-paper",
        ),
        _show,
    ),
    "shows-not-taken": _show_load,
    "shows-next": lambda: {"pk": show_factories.closed_booth().show.pk},
}

# --- People and clubs -------------------------------------------------------------------------------------------------


def _person() -> dict[str, Any]:
    return {"code": promises.person("Ilse Vuorinen").code}


def _round() -> dict[str, Any]:
    return {"pk": promises.frozen_round().pk}


WITH_PARTS |= {
    **dict.fromkeys(
        ("promises-person", "promises-person-change", "promises-person-export", "promises-person-erase"),
        _person,
    ),
    "promises-person-same": lambda: {**_person(), "other": promises.person("Ilse Vuorinen").code},
    **dict.fromkeys(
        ("club", "club-change", "club-level-new", "club-members", "club-member-new", "round-new"),
        lambda: {"pk": promises.level().club_id},
    ),
    "club-level": lambda: {"pk": promises.level().pk},
    **dict.fromkeys(
        ("club-member", "club-member-change", "club-member-do"), lambda: {"pk": promises.membership().pk}
    ),
    **dict.fromkeys(
        (
            "round",
            "round-change",
            "round-freeze",
            "round-late",
            "round-boxes",
            "round-box-out",
            "round-box-back",
        ),
        _round,
    ),
}

# --- The dye list and the weeks ahead ---------------------------------------------------------------------------------

WITH_PARTS |= {
    "weeks-back": lambda: {"pk": week_factories.lost_day().pk},
    "weeks-pin": _planned_pot,
    "dyelist-wanted-end": lambda: {"pk": week_factories.wanted().pk},
}

# --- Costs ------------------------------------------------------------------------------------------------------------


def _arrival() -> dict[str, Any]:
    put_up = factories.put_up()
    return {"pk": costs.bought(put_up, 3, mill_lot=costs.mill_lot(put_up)).pk}


WITH_PARTS |= {
    "costs-stock": lambda: {"category": "undyed"},
    "costs-lot": _lot,
    "costs-pot": _pot,
    "costs-paid-line": _arrival,
    "costs-price": _put_up,
    "costs-kit-price": lambda: {"pk": factories.built_kit().kit_id},
    **dict.fromkeys(
        ("costs-year", "costs-year-csv", "costs-year-print"), lambda: {"pk": costs.closed_year().pk}
    ),
}

# --- Orders and files ----------------------------------------------------------------------------------------------


def _order() -> dict[str, Any]:
    return {"pk": promises.order_line().order_id}


def _line() -> dict[str, Any]:
    line = promises.order_line()
    return {"pk": line.order_id, "position": line.position}


WITH_PARTS |= {
    **dict.fromkeys(("product", "product-change"), lambda: {"pk": promises.product().pk}),
    **dict.fromkeys(("order", "order-pay", "order-step", "order-cancel", "order-line-new"), _order),
    **dict.fromkeys(("order-line", "order-line-cancel"), _line),
    "order-terms": lambda: {"code": promises.person(kind="shop").code},
    **dict.fromkeys(
        ("taking", "taking-columns", "taking-words", "taking-take", "taking-drop"),
        lambda: {"key": promises.file_looked_at().key},
    ),
    "round-allocate": lambda: {"pk": promises.club_round().pk},
    "product-allocate": lambda: {"pk": promises.product().pk},
    **dict.fromkeys(
        ("product-days", "product-day-in", "product-day-out", "product-days-left"),
        lambda: {"pk": promises.box_of_days().pk},
    ),
    **dict.fromkeys(
        (
            "round-given",
            "round-given-again",
            "round-given-pin",
            "round-given-exchange",
            "round-given-hold",
            "round-given-back",
        ),
        lambda: {"key": promises.worked_out().key},
    ),
}

# --- Parcels -----------------------------------------------------------------------------------------------------------


def _parcel() -> dict[str, Any]:
    return {"code": promises.parcel().code}


def _parcel_box() -> dict[str, Any]:
    return {"code": promises.held_box().code}


WITH_PARTS |= {
    **dict.fromkeys(
        (
            "parcel",
            "parcel-pack",
            "parcel-unpack",
            "parcel-out",
            "parcel-send",
            "parcel-tracking",
            "parcel-packaging",
            "parcel-lost",
        ),
        _parcel,
    ),
    **dict.fromkeys(
        (
            "parcel-batch",
            "parcel-batch-send",
            "parcel-pick-paper",
            "parcel-slips-paper",
            "parcel-cards-paper",
            "parcel-addresses-paper",
        ),
        lambda: {"code": promises.parcel().batch.code},
    ),
    **dict.fromkeys(("parcel-box", "parcel-box-again"), _parcel_box),
}
