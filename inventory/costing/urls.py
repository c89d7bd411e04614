"""Addresses of costs and values."""

from __future__ import annotations

from django.urls import path

from inventory.costing import price_views, views, year_views

urlpatterns = [
    path("", views.costs, name="costs"),
    path("stock/<slug:category>/", views.stock_list, name="costs-stock"),
    path("lot/<str:code>/", views.lot, name="costs-lot"),
    path("pot/<str:code>/", views.pot, name="costs-pot"),
    path("margins/", views.margin_list, name="costs-margins"),
    path("paid/", price_views.paid, name="costs-paid"),
    path("paid/<int:pk>/", price_views.paid_line, name="costs-paid-line"),
    path("usual/", price_views.usual, name="costs-usual"),
    path("prices/", price_views.prices, name="costs-prices"),
    path("prices/<int:pk>/", price_views.price, name="costs-price"),
    path("prices/kit/<int:pk>/", price_views.kit_price, name="costs-kit-price"),
    path("years/", year_views.closed_years, name="costs-years"),
    path("years/now/", year_views.year_now, name="costs-year-now"),
    path("years/<int:pk>/", year_views.year, name="costs-year"),
    path("years/<int:pk>/list.csv", year_views.year_csv, name="costs-year-csv"),
]
