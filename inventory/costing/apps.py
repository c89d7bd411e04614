from django.apps import AppConfig


class CostsConfig(AppConfig):
    name = "inventory.costing"
    label = "costing"
    verbose_name = "Costs"
