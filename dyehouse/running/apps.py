from django.apps import AppConfig


class RunningConfig(AppConfig):
    name = "dyehouse.running"
    label = "running"
    verbose_name = "Running the house"
