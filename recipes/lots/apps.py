from django.apps import AppConfig


class LotsConfig(AppConfig):
    name = "recipes.lots"
    label = "lots"
    verbose_name = "Pots and lots"

    def ready(self) -> None:
        from dyehouse.ledger.guard import append_only
        from recipes.lots.models import (
            DayClosed,
            JudgedPieces,
            Judgement,
            LeftInBath,
            LogEntry,
            ReferenceChoice,
            WayOrigin,
        )

        append_only(LogEntry, WayOrigin, Judgement, JudgedPieces, ReferenceChoice, LeftInBath, DayClosed)
