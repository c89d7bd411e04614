"""Post one movement after another into the database named, until killed; each key is printed once it is saved."""

from __future__ import annotations

import os
import sys
import uuid


def main(database: str, lines: int) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "dyehouse.settings")
    from django.conf import settings

    settings.DATABASES["default"]["NAME"] = database

    import django

    django.setup()
    from dyehouse.ledger.models import Item, Lot
    from dyehouse.ledger.operations import Bucket, Step, post
    from dyehouse.ledger.places import fixed_place

    items, lots = list(Item.objects.order_by("pk")), list(Lot.objects.order_by("pk"))
    store, drying = Bucket(fixed_place("store")), Bucket(fixed_place("drying"))
    pairs = [(items[number % len(items)], lots[number % len(lots)]) for number in range(lines)]
    turn = 0
    while True:
        key, (source, target) = uuid.uuid4(), ((store, drying), (drying, store))[turn % 2]
        post(
            key=key,
            who=None,
            steps=[Step(item, lot, 1, source, target) for item, lot in pairs],
            find_missing=True,
        )
        print(key, flush=True)
        turn += 1


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
