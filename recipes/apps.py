from django.apps import AppConfig


class RecipesConfig(AppConfig):
    name = "recipes"
    label = "recipes"

    def ready(self) -> None:
        from dyehouse.ledger.guard import append_only
        from recipes.models import MixPart, Rule, WayOfDyeing

        append_only(WayOfDyeing, Rule, MixPart)
