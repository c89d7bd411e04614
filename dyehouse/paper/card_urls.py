"""Addresses of the dye cards."""

from __future__ import annotations

from django.urls import path

from dyehouse.paper import card_views

urlpatterns = [
    path("card/<str:code>/", card_views.dye_card, name="dye-card"),
    path("cards/<int:pk>/", card_views.plan_cards, name="dye-cards"),
]
