from django.apps import AppConfig


class InventoryConfig(AppConfig):
    name = "inventory"
    label = "inventory"

    def ready(self) -> None:
        from dyehouse.ledger.guard import append_only
        from inventory.models import Counted, PutUpChange, PutUpMade

        append_only(Counted, PutUpChange, PutUpMade)
