"""All addresses of the house, room by room."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("dyehouse.day.urls")),
    path("", include("dyehouse.studio.urls")),
    path("", include("dyehouse.running.urls")),
    path("store/", include("recipes.urls")),
    path("", include("recipes.lots.urls")),
    path("", include("inventory.trace_urls")),
    path("buying/", include("inventory.buying.urls")),
    path("shows/", include("inventory.shows.urls")),
    path("costs/", include("inventory.costing.urls")),
    path("promises/", include("inventory.promises.urls")),
    path("weeks/", include("inventory.weeks.urls")),
    path("shelf/", include("inventory.urls")),
    path("paper/", include("dyehouse.paper.urls")),
    path("paper/", include("dyehouse.paper.card_urls")),
]
