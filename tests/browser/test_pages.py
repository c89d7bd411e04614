"""The main pages with real things on them: read by machine, within the narrowest phone, with a console that stays clean."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

from recipes.lots.baths import baths_at_hand
from recipes.lots.load_lines import DyedBefore, LoadLine
from recipes.lots.pots import load_pot
from recipes.lots.sampling import plan_sample
from recipes.retiring import retire
from tests import factories
from tests.browser.walking import Walk, barriers, let_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

NARROWEST = {"width": 320, "height": 640}
DESK = {"width": 1280, "height": 900}


@pytest.fixture
def addresses() -> list[str]:
    """A house with a little of everything, and where to look at it."""
    factories.studio()
    marit = factories.OwnerFactory(username="marit")
    way = factories.way(who=marit)
    plan = factories.redye_plan(who=marit, of=way)
    pot = factories.loaded_pot(who=marit)
    lot = factories.lot_out(who=marit)
    factories.photos.add_photo(
        key=factories.uuid.uuid4(), upload=factories.photo_file(), kind="daylight", dye_lot=lot, who=marit
    )
    shelved, place, dyed = factories.shelved_lot(who=marit)
    bath = next(each for each in baths_at_hand() if each.pot == pot)
    line = LoadLine(dyed.put_up, None, 1, dyed_before=DyedBefore(shelved, dyed, place))
    over = load_pot(
        key=factories.uuid.uuid4(), lines=[line], vessel=None, colourway=None, who=marit,
        strip_milligrams=12_000, bath=bath,
    )  # fmt: skip
    plan_sample(plan=plan, who=marit)
    vessel, put_up = plan.vessel, plan.put_up
    jug = factories.mix("evening", who=marit)
    fed = [factories.loaded_pot(put_up=factories.put_up(pieces=10, who=marit), who=marit)]
    fed.append(factories.loaded_pot(put_up=fed[0].loads.get().put_up, colourway=fed[0].colourway, who=marit))
    for each in fed:
        factories.log_entry("200 ml of jug evening", pot=each, who=marit)
    jug_lot = factories.lot_out(pot=fed[0], who=marit)
    milling = factories.dye("Rust", dye_class="milling")
    noted = factories.way_from_notes(who=marit)
    retire(thing=factories.dye("Old rose"))
    return [
        "/",
        "/pots/",
        f"/pots/{pot.code}/",
        f"/pots/{plan.pots.first().code}/",
        f"/pots/{pot.code}/out/",
        "/pots/new/",
        f"/pots/new/?overdye={shelved.code}",
        f"/pots/{over.code}/",
        f"/pots/{over.code}/bath/",
        f"/pots/{over.code}/yarn/",
        f"/pots/{over.code}/weight/",
        f"/pots/{plan.pots.first().code}/load/",
        f"/pots/{pot.code}/repeatable/",
        "/colourways/",
        f"/colourways/{way.colourway.code}/",
        f"/colourways/{way.colourway.code}/redye/?pieces=7&put_up={put_up.pk}&vessel={vessel.pk}&ratio=25",
        f"/redye/{plan.pk}/",
        f"/ways/{way.pk}/correct/",
        f"/lots/{lot.code}/",
        f"/lots/{lot.code}/judge/",
        "/shelf/",
        f"/shelf/{shelved.code}/away/",
        f"/shelf/{shelved.code}/away/{place.pk}/",
        f"/shelf/place/{place.pk}/",
        "/shelf/before/",
        "/shelf/before/dyed/",
        f"/shelf/{shelved.code}/count/{dyed.pk}/{place.pk}/",
        f"/paper/labels/?lot={shelved.code}",
        f"/paper/tag/{pot.code}/",
        "/paper/",
        "/paper/days/",
        "/paper/places/",
        "/paper/count/",
        "/paper/mixing/",
        "/paper/designs/",
        "/paper/designs/new/",
        "/paper/sheets/",
        "/paper/sheets/new/",
        "/paper/sheets/a4-3x8/",
        f"/paper/labels/fibres/{put_up.base_id}/",
        f"/paper/long/{factories.long_printing().key}/",
        "/set-up/maker/",
        "/store/",
        "/store/mixes/",
        "/store/mixes/new/",
        f"/store/mixes/{jug.code}/",
        "/pots/before/",
        f"/pots/{fed[1].code}/",
        f"/pots/{fed[1].code}/out/",
        f"/lots/{jug_lot.code}/",
        f"/pots/{pot.code}/usual/",
        f"/store/dyes/{milling.pk}/usual/?on=sock&depth=1&dry_weight=500&bath=12",
        "/store/no-longer-used/",
        f"/paper/cards/new/?colourway={way.colourway.code}",
        "/paper/book/",
        "/notebook/",
        "/notebook/list/",
        f"/ways/{noted.pk}/",
        f"/colourways/{noted.colourway.code}/",
    ]


def test_the_main_pages_read_well_and_stay_within_the_screen(page: Page, live_server, addresses):
    walk = Walk(page, live_server.url)
    let_in(page, live_server.url, "marit")
    faults = []

    for address in addresses:
        page.set_viewport_size(DESK)
        walk.open(address)
        faults += [f"{address} {each}" for each in barriers(page, DESK, NARROWEST)]
        walk.fits()

    assert faults == []
    assert walk.complaints == []
