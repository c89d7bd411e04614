"""The invented studio's jugs: one that fed two pots yesterday evening, which are one lot, and one that stands ready."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.utils import timezone

from dyehouse.demo.book import demo_key
from dyehouse.demo.stocking import Store
from dyehouse.ledger.models import Balance
from dyehouse.studio.models import User, Vessel
from recipes.lots.finishing import out_of_pot
from recipes.lots.log import keep_line
from recipes.lots.models import DyeLot, Pot
from recipes.lots.pots import start_trial
from recipes.mixes import Part, finish_mix, make_mix
from recipes.models import Colourway, MillLot

BASE, GRAMS = "Harrow Sock", 100
FED_HOURS_AGO = 21
# (vessel, pieces, millilitres of the jug: each 1.2 ml a gram)
FED: tuple[tuple[str, int, int], ...] = (("Big blue", 4, 480), ("Old steel", 3, 360))


def pour_from_jugs(*, now: datetime, owner: User, helper: User, store: Store) -> None:
    """A jug of three dyes into two pots, its end thrown away; a second one made this morning for later."""
    mixed_at = now - timedelta(hours=FED_HOURS_AGO + 1)
    jug = make_mix(
        key=demo_key("mix", "low tide"),
        name="low tide",
        parts=[_powder(store, "Teal", 4_500), _powder(store, "Grey", 1_500), _powder(store, "Plum", 300)],
        microlitres=900_000,
        made_at=mixed_at,
        best_before=(mixed_at + timedelta(days=91)).date(),
        who=owner,
    )
    colourway: Colourway | None = None
    lot: DyeLot | None = None
    for number, (vessel, pieces, millilitres) in enumerate(FED):
        who = helper if number else owner
        loaded = now - timedelta(hours=FED_HOURS_AGO) + timedelta(minutes=8 * number)
        pot = _fed(
            store, who=who, vessel=vessel, pieces=pieces, colourway=colourway, loaded=loaded,
            lines=((3, f"{3 * pieces} l water"), (5, "heat on"), (12, f"{millilitres} ml of jug low tide"),
                   (20, f"{12 * pieces} ml vinegar"), (55, "85 C"), (100, "clear!"), (105, "heat off")),
        )  # fmt: skip
        colourway = pot.colourway
        lot = out_of_pot(
            key=demo_key("jug-out", vessel),
            pot=pot,
            bath="clear",
            who=who,
            join=lot,
            happened_at=loaded + timedelta(hours=3),
        )
    finish_mix(
        key=demo_key("mix-done", "low tide"),
        mix=jug,
        who=helper,
        why="the end went down the drain",
        happened_at=now - timedelta(hours=FED_HOURS_AGO - 4),
    )
    made_at = now - timedelta(hours=2)
    make_mix(
        key=demo_key("mix", "wet slate"),
        name="wet slate",
        parts=[_powder(store, "Navy", 2_000), _powder(store, "Grey", 3_500)],
        microlitres=1_000_000,
        made_at=made_at,
        who=owner,
    )


def _powder(store: Store, dye: str, milligrams: int) -> Part:
    jar, _ = store.jars[dye]
    return Part(jar=jar, milligrams=milligrams)


def _fed(
    store: Store,
    *,
    who: User,
    vessel: str,
    pieces: int,
    colourway: Colourway | None,
    loaded: datetime,
    lines: tuple[tuple[int, str], ...],
) -> Pot:
    pot = start_trial(
        key=demo_key("jug-pot", vessel),
        put_up=store.put_ups[BASE, GRAMS],
        mill_lot=_most_left(store),
        pieces=pieces,
        dry_milligrams=None,
        vessel=Vessel.objects.get(name=vessel),
        colourway=colourway,
        who=who,
        happened_at=loaded,
    )
    for minute, typed in lines:
        at = loaded + timedelta(minutes=minute)
        keep_line(
            pot=pot,
            key=demo_key("jug-pot", vessel, minute),
            typed=typed,
            who=who,
            clock=at,
            now=max(at, timezone.now()),
        )
    pot.refresh_from_db()
    return pot


def _most_left(store: Store) -> MillLot:
    """The mill lot of which the store has most, so that both pots are of one."""
    put_up = store.put_ups[BASE, GRAMS]
    most = (
        Balance.objects.filter(place__code="store", item=put_up.item_id)
        .select_related("lot__mill_lot")
        .order_by("-on_hand", "pk")
        .first()
    )
    assert most is not None
    mill_lot: MillLot = most.lot.mill_lot
    return mill_lot
