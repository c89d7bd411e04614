from django.apps import AppConfig


class StudioConfig(AppConfig):
    name = "dyehouse.studio"
    label = "studio"
    verbose_name = "The studio"
