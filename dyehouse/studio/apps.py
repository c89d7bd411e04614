from django.apps import AppConfig


class StudioConfig(AppConfig):
    name = "dyehouse.studio"
    label = "studio"
    verbose_name = "The studio"

    def ready(self) -> None:
        # Before any form is defined: a field copies its words when it is made.
        from dyehouse.studio.wording import speak_plainly

        speak_plainly()
