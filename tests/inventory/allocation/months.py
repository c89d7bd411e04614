"""Months to try: invented boxes and lots, small ones drawn by hypothesis, large ones drawn once by number."""

from __future__ import annotations

import random

from hypothesis import strategies as st

from inventory.allocation.wants import Box, Forbid, Lot, Month, Piece, Slot

COLOURWAYS = ("Moss", "Slate", "Ember")
FAMILIES = {"Moss": frozenset({"green"}), "Slate": frozenset({"blue", "grey"}), "Ember": frozenset({"red"})}
FIBRES = {"Sock": frozenset({"wool", "nylon"}), "Mini": frozenset({"wool"})}


def lot(key: str, colourway: str = "Moss", free: int = 1, put_up: str = "Sock", **others) -> Lot:
    return Lot(
        id=key,
        colourway=colourway,
        put_up=put_up,
        free=free,
        families=FAMILIES.get(colourway, frozenset()),
        fibres=FIBRES.get(put_up, frozenset()),
        **others,
    )


def box(key: str, order: int = 1, pieces: int = 1, member: str = "", put_up: str = "Sock", **others) -> Box:
    slots = others.pop("slots", (Slot(put_up=put_up, pieces=pieces, colourways=others.pop("of", None)),))
    return Box(id=key, member=member or f"person {key}", order=order, slots=slots, **others)


@st.composite
def months(draw: st.DrawFn, *, most_boxes: int, most_lots: int, most_free: int, most_pieces: int) -> Month:
    """Anything goes: several boxes a person, pots that match, one-offs, spares, forbids, something given before."""
    some = st.sets(st.sampled_from(COLOURWAYS), max_size=1).map(frozenset)
    lots = tuple(
        lot(
            f"L{number}",
            draw(st.sampled_from(COLOURWAYS)),
            draw(st.sampled_from((most_free, *range(most_free + 1)))),
            draw(st.sampled_from(("Sock", "Sock", "Mini"))),
            pot=draw(st.sampled_from(("", "", "A", "B"))),
            one_off=draw(st.integers(0, 5)) == 0,
        )
        for number in range(draw(st.integers(0, most_lots)))
    )
    slot = st.builds(
        Slot,
        put_up=st.sampled_from(("Sock", "Sock", "Mini")),
        pieces=st.integers(1, most_pieces),
        colourways=st.one_of(st.none(), st.sets(st.sampled_from(COLOURWAYS), min_size=1).map(frozenset)),
    )
    boxes = tuple(
        Box(
            id=f"B{number}",
            member=draw(st.sampled_from(("Ada", "Bo", f"M{number}"))),
            order=draw(st.integers(1, 4)),
            slots=tuple(draw(st.lists(slot, min_size=1, max_size=2))),
            avoids_families=frozenset({"green"}) if draw(st.integers(0, 4)) == 0 else frozenset(),
            avoids_fibres=frozenset({"nylon"}) if draw(st.integers(0, 6)) == 0 else frozenset(),
            had=draw(some) if draw(st.integers(0, 3)) == 0 else frozenset(),
            same_pot=draw(st.booleans()),
            different=draw(st.integers(0, 3)) == 0,
            likes=draw(st.dictionaries(st.sampled_from(COLOURWAYS), st.integers(0, 3), max_size=2)),
            liked_families=draw(st.sampled_from((frozenset(), frozenset({"blue"})))),
            luck=draw(st.integers(0, 2)),
        )
        for number in range(draw(st.integers(0, most_boxes)))
    )
    forbids: tuple[Forbid, ...] = ()
    earlier: tuple[Piece, ...] = ()
    if boxes and lots:
        of_both = st.tuples(st.sampled_from(boxes), st.sampled_from(lots))
        forbids = tuple(
            Forbid(box=one.id, lot=of.id) for one, of in draw(st.lists(of_both, max_size=2, unique=True))
        )
        earlier = tuple(
            Piece(one.id, draw(st.integers(0, len(one.slots) - 1)), of.id, draw(st.integers(1, 2)))
            for one, of in draw(st.lists(of_both, max_size=4))
        )
    spares = draw(
        st.dictionaries(
            st.tuples(st.sampled_from(COLOURWAYS), st.just("Sock")), st.integers(0, 2), max_size=2
        )
    )
    return Month(boxes=boxes, lots=lots, spares=spares, forbids=forbids, earlier=earlier)


def large_month(*, boxes: int, lots: int, share_there: float, number: int = 1) -> Month:
    """A club as it is: a tenth with two memberships, a few with three, avoided families and fibres, months had."""
    chance = random.Random(number)
    colourways = [f"C{at}" for at in range(max(1, lots // 3))]
    families = [f"F{at}" for at in range(8)]
    of_families = {each: frozenset(chance.sample(families, chance.randint(1, 2))) for each in colourways}
    fibres = {
        "Sock": frozenset({"wool", "nylon"}),
        "Single": frozenset({"wool"}),
        "Sparkle": frozenset({"wool", "lurex"}),
    }
    put_ups = ["Sock", "Sock", "Sock", "Single", "Sparkle"]
    made: list[Box] = []
    order = 0
    while len(made) < boxes:
        order += 1
        times = min(chance.choices((1, 2, 3), (88, 10, 2))[0], boxes - len(made))
        put_up = chance.choice(put_ups)
        avoids = frozenset(chance.sample(families, 1)) if chance.random() < 0.15 else frozenset()
        had = (
            frozenset(chance.sample(colourways, min(6, len(colourways) // 3)))
            if chance.random() < 0.6
            else frozenset()
        )
        likes = frozenset(chance.sample(families, 1)) if chance.random() < 0.4 else frozenset()
        same = chance.random() < 0.3
        luck = chance.choice((0, 0, 0, 1, 2))
        for one in range(times):
            pieces = chance.choices((1, 2, 3), (75, 20, 5))[0] if times == 1 else 1
            made.append(
                Box(
                    id=f"{order:05}-{one}",
                    member=f"M{order}",
                    order=order,
                    slots=(Slot(put_up=put_up, pieces=pieces),),
                    avoids_families=avoids,
                    avoids_fibres=frozenset({"lurex"})
                    if chance.random() < 0.05 and put_up != "Sparkle"
                    else frozenset(),
                    had=had,
                    same_pot=same,
                    liked_families=likes,
                    luck=luck,
                )
            )
    wanted = sum(each.pieces for each in made)
    shares = [chance.uniform(0.5, 1.5) for _ in range(lots)]
    given = []
    for at, share in enumerate(shares):
        colourway = colourways[at // 3 % len(colourways)]
        put_up = put_ups[(at // 3 + at) % len(put_ups)]
        given.append(
            Lot(
                id=f"L{at:02}",
                colourway=colourway,
                put_up=put_up,
                free=max(1, round(wanted * share_there * share / sum(shares))),
                families=of_families[colourway],
                fibres=fibres[put_up],
                # Every fifth matches the one before it by eye, where that is of the same colourway.
                pot=f"P{at // 2}" if at % 10 < 2 and at // 2 * 2 // 3 == (at // 2 * 2 + 1) // 3 else "",
            )
        )
    return Month(boxes=tuple(made), lots=tuple(given))
