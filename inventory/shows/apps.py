from django.apps import AppConfig


class ShowsConfig(AppConfig):
    name = "inventory.shows"
    label = "shows"
    verbose_name = "Shows"

    def ready(self) -> None:
        from dyehouse.ledger.guard import append_only
        from inventory.shows.models import (
            CameBack,
            Closing,
            Load,
            Packed,
            Result,
            SaidSold,
            Takings,
            Tallied,
        )

        append_only(CameBack, Closing, Load, Packed, Result, SaidSold, Takings, Tallied)
