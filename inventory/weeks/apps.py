from django.apps import AppConfig


class WeeksConfig(AppConfig):
    name = "inventory.weeks"
    label = "weeks"
    verbose_name = "The weeks ahead"
