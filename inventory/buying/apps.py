from django.apps import AppConfig


class BuyingConfig(AppConfig):
    name = "inventory.buying"
    label = "buying"
    verbose_name = "Buying"

    def ready(self) -> None:
        from dyehouse.ledger.guard import append_only
        from inventory.buying.models import Arrival, Bill, BillLine, ClosedShort, ExpectedDay

        append_only(Arrival, Bill, BillLine, ClosedShort, ExpectedDay)
