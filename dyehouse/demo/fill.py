"""Fills an empty house with an invented studio and the year behind it; the same one every time, up to the day."""

from __future__ import annotations

import random
from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from dyehouse.demo import invented
from dyehouse.demo.book import Book
from dyehouse.demo.clubs import run_clubs
from dyehouse.demo.costs import keep_costs
from dyehouse.demo.jugs import pour_from_jugs
from dyehouse.demo.loads import load_by_the_line
from dyehouse.demo.notes import write_notes_down
from dyehouse.demo.ordering import order_yarn
from dyehouse.demo.outcome import Outcome
from dyehouse.demo.pictures import picture_colourways
from dyehouse.demo.printing import print_for_boxes
from dyehouse.demo.shows import go_to_shows
from dyehouse.demo.singular import make_one_offs, put_to_soak
from dyehouse.demo.stocking import Store
from dyehouse.demo.today import bring_up_to_today
from dyehouse.demo.together import sell_together
from dyehouse.demo.weeks import look_ahead
from dyehouse.demo.year import Year
from dyehouse.ledger.models import Movement, Place
from dyehouse.ledger.places import FIXED_PLACES, fixed_place
from dyehouse.studio.models import Measure, PairedPhone, Studio, User, Vessel
from dyehouse.studio.phones import CODE_LIFE, SIGNED_IN_FOR
from recipes.models import Base, Dye

CHANCE = 8620


def is_empty() -> bool:
    """Whether nothing has been written down in this house yet: no yarn, no dye, no movement."""
    return not (Base.objects.exists() or Dye.objects.exists() or Movement.objects.exists())


@transaction.atomic
def fill_house(now: datetime | None = None) -> None:
    """Put the invented studio into an empty house, ending at `now`.

    Everything is drawn by one seeded chance, so that the same moment gives the same house. All or nothing.
    """
    moment = now or timezone.now()
    chance = random.Random(CHANCE)  # noqa: S311
    owner, helper = _people()
    vessels = _studio(moment)
    places = {code: fixed_place(code) for code in FIXED_PLACES} | {
        name: Place.objects.create(
            kind=Place.Kind.SHELF,
            code=f"shelf-{name.lower().replace(' ', '-')}",
            name=f"Shelf {name}" if len(name) == 2 else name,
            order=200,
        )
        for name in invented.SHELVES
    }
    book = Book(places)
    store = Store(book, owner)
    last = _last_session(moment)
    store.open(last - timedelta(days=375))
    pots = Year(book, store, chance, owner, helper, vessels, moment).tell(last)
    outcome = Outcome(book, chance, owner, helper, moment, pots, invented.SHELVES)
    outcome.tell()
    picture_colourways(pots=pots, references=outcome.references, by=owner)
    bring_up_to_today(now=moment, chance=chance, owner=owner, helper=helper, store=store, outcome=outcome)
    load_by_the_line(now=moment, owner=owner, helper=helper, store=store)
    pour_from_jugs(now=moment, owner=owner, helper=helper, store=store)
    sell_together(now=moment, owner=owner, helper=helper)
    make_one_offs(now=moment, owner=owner)
    put_to_soak(now=moment, helper=helper)
    go_to_shows(now=moment, owner=owner, helper=helper)
    look_ahead(now=moment, owner=owner)
    _phones(helper, moment)
    print_for_boxes(now=moment, owner=owner)
    write_notes_down(owner=owner)
    run_clubs(now=moment, chance=chance, owner=owner)
    order_yarn(now=moment, owner=owner, helper=helper, store=store)
    keep_costs(now=moment, owner=owner)


def _last_session(now: datetime) -> datetime:
    """The evening before last: its pots have dried for a day and wait for judging."""
    evening = timezone.localtime(now).replace(hour=17, minute=0, second=0, microsecond=0)
    return evening - timedelta(days=2)


def _phones(helper: User, now: datetime) -> None:
    """The helper's phone by the pot, and the one that was lost before it. Neither code lets anybody in."""
    for name, days, ended in (("Jo’s old phone", 64, True), ("Jo’s phone", 40, False)):
        paired = now - timedelta(days=days)
        PairedPhone.objects.create(
            user=helper,
            name=name,
            code_digest=f"{days:064d}",
            code_until=paired + CODE_LIFE,
            paired_at=paired,
            signed_in_until=paired + SIGNED_IN_FOR,
            seen_at=now - timedelta(days=days - 22 if ended else 2),
            revoked_at=now - timedelta(days=41) if ended else None,
        )


def _people() -> tuple[User, User]:
    owner = User.objects.filter(role=User.Role.OWNER).order_by("pk").first()
    if owner is None:
        owner = User(username="owner", role=User.Role.OWNER, called="Owner")
        owner.set_unusable_password()
        owner.save()
    helper = User.objects.filter(username=invented.HELPER_NAME.lower()).first()
    if helper is None:
        helper = User(
            username=invented.HELPER_NAME.lower(), role=User.Role.HELPER, called=invented.HELPER_NAME
        )
        helper.set_unusable_password()
        helper.save()
    return owner, helper


def _studio(now: datetime) -> list[Vessel]:
    studio = Studio.current()
    studio.name = studio.name or invented.STUDIO_NAME
    studio.country = studio.country or "IE"
    studio.postal_address = studio.postal_address or invented.STUDIO_ADDRESS
    studio.email = studio.email or invented.STUDIO_EMAIL
    studio.water_hardness_mg_per_litre = 160
    studio.water_alkalinity_mg_per_litre = 140
    studio.water_ph_hundredths = 740
    studio.water_measured_on = (now - timedelta(days=90)).date()
    studio.set_up_at = studio.set_up_at or now - timedelta(days=370)
    studio.save()
    Measure.objects.get_or_create(
        name="Pocket scale", kind=Measure.Kind.SCALE, step=10, defaults={"most": 200_000}
    )
    Measure.objects.get_or_create(
        name="Kitchen scale", kind=Measure.Kind.SCALE, step=1000, defaults={"most": 5_000_000}
    )
    Measure.objects.get_or_create(
        name="Syringe", kind=Measure.Kind.CYLINDER, step=200, defaults={"most": 10_000}
    )
    Measure.objects.get_or_create(
        name="Tall cylinder", kind=Measure.Kind.CYLINDER, step=1000, defaults={"most": 100_000}
    )
    vessels = []
    for name, kind, millilitres, watts, hob in invented.VESSELS:
        vessel, _ = Vessel.objects.get_or_create(
            name=name,
            defaults={"kind": kind, "working_millilitres": millilitres, "hob_watts": watts, "hob_kind": hob},
        )
        vessels.append(vessel)
    return vessels
