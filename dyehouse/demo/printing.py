"""What the invented studio prints with: a design of its own, a printer that is out by half a millimetre, a box of days."""

from __future__ import annotations

from datetime import datetime, timedelta

from dyehouse.demo import invented
from dyehouse.demo.book import demo_key
from dyehouse.paper.designs import Design, keep_design
from dyehouse.paper.models import PrintRun
from dyehouse.paper.own_sheets import keep_offset
from dyehouse.paper.payloads import payload_of
from dyehouse.paper.runs import record_run
from dyehouse.paper.sheets import Offset, sheet_named
from dyehouse.paper.stickers import DayNumber
from dyehouse.studio.models import User

DAYS = 24


def print_for_boxes(*, now: datetime, owner: User) -> None:
    """Numbers for a box of 24 days, printed ten days ago; they print again as they were."""
    keep_design(
        design=Design(
            slug="", name="Band with a picture", shape="band", with_picture=True, sheet="a4-1x6-cut"
        )
    )
    sheet = sheet_named("a4-5x13")
    offset = Offset(x_um=500)
    keep_offset(sheet=sheet, offset=offset)
    numbers = [DayNumber(number=number, studio=invented.STUDIO_NAME) for number in range(1, DAYS + 1)]
    record_run(
        key=demo_key("numbers of days"),
        kind=PrintRun.Kind.DAY_NUMBERS,
        who=owner,
        counts={},
        pieces=DAYS,
        sheet=sheet.slug,
        offset_x_um=offset.x_um,
        payload={"numbers": payload_of(numbers), "sheet": sheet.as_payload()},
        printed_at=now - timedelta(days=10, hours=3),
    )
