"""Addresses of the dye cards."""

from __future__ import annotations

from django.urls import path

from dyehouse.paper import card_new_views, card_views

urlpatterns = [
    path("cards/new/", card_new_views.card_new, name="card-new"),
    path("card/<str:code>/", card_views.dye_card, name="dye-card"),
    path("cards/<int:pk>/", card_views.plan_cards, name="dye-cards"),
]
