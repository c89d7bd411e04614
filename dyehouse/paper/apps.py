from django.apps import AppConfig


class PaperConfig(AppConfig):
    name = "dyehouse.paper"
    label = "paper"
    verbose_name = "Paper"
