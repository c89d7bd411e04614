"""Addresses of what is ordered."""

from __future__ import annotations

from django.urls import path

from inventory.buying import views

urlpatterns = [
    path("orders/<int:pk>/", views.order, name="buying-order"),
]
