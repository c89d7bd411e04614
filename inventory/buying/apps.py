from django.apps import AppConfig


class BuyingConfig(AppConfig):
    name = "inventory.buying"
    label = "buying"
    verbose_name = "Buying"
