from django.apps import AppConfig


class PromisesConfig(AppConfig):
    name = "inventory.promises"
    label = "promises"
    verbose_name = "Promises"

    def ready(self) -> None:
        from dyehouse.ledger.guard import append_only
        from inventory.costing.margin_queries import tell_of_sold
        from inventory.finding import tell_of as find_too
        from inventory.promises.found import find_promises
        from inventory.promises.models import (
            LaidDay,
            MembershipChange,
            OrderChange,
            ParcelEvent,
            Payment,
            PrivacyRequest,
            RoundChange,
            WhyHeld,
        )
        from inventory.promises.sold import boxes_of_levels
        from inventory.promises.told import promised
        from inventory.spoken_for import tell_of

        append_only(
            LaidDay, MembershipChange, RoundChange, OrderChange, Payment, WhyHeld, ParcelEvent, PrivacyRequest
        )
        tell_of(promised)
        find_too(find_promises)
        tell_of_sold(boxes_of_levels)
