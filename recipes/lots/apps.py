from django.apps import AppConfig


class LotsConfig(AppConfig):
    name = "recipes.lots"
    label = "lots"
    verbose_name = "Pots and lots"
