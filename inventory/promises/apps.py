from django.apps import AppConfig


class PromisesConfig(AppConfig):
    name = "inventory.promises"
    label = "promises"
    verbose_name = "Promises"

    def ready(self) -> None:
        from dyehouse.ledger.guard import append_only
        from inventory.promises.models import (
            MembershipChange,
            OrderChange,
            ParcelEvent,
            Payment,
            PrivacyRequest,
            RoundChange,
            WhyHeld,
        )

        append_only(MembershipChange, RoundChange, OrderChange, Payment, WhyHeld, ParcelEvent, PrivacyRequest)
