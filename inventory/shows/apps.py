from django.apps import AppConfig


class ShowsConfig(AppConfig):
    name = "inventory.shows"
    label = "shows"
    verbose_name = "Shows"
