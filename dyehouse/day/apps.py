from django.apps import AppConfig


class DayConfig(AppConfig):
    name = "dyehouse.day"
    label = "day"
    verbose_name = "The day"
