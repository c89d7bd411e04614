from django.apps import AppConfig


class PromisesConfig(AppConfig):
    name = "inventory.promises"
    label = "promises"
    verbose_name = "Promises"
