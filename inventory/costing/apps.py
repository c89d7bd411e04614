from django.apps import AppConfig


class CostsConfig(AppConfig):
    name = "inventory.costing"
    label = "costing"
    verbose_name = "Costs"

    def ready(self) -> None:
        from dyehouse.ledger.guard import append_only
        from inventory.costing.models import (
            ClosedRow,
            ClosedSum,
            ClosedYear,
            Paid,
            PotCosts,
            RetailPrice,
            UsualCosts,
        )

        append_only(Paid, UsualCosts, PotCosts, RetailPrice, ClosedYear, ClosedRow, ClosedSum)
