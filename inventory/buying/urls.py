"""Addresses of what is bought."""

from __future__ import annotations

from django.urls import path

from inventory.buying import arrive_views, supplier_views, views

urlpatterns = [
    path("", views.buying, name="buying"),
    path("due/", views.buying_due, name="buying-due"),
    path("mill-lots/", views.buying_splits, name="buying-splits"),
    path("reckoned/", views.buying_habits, name="buying-habits"),
    path("orders/", views.buying_orders, name="buying-orders"),
    path("orders/<int:pk>/", views.buying_order, name="buying-order"),
    path("orders/<int:pk>/lines/", views.buying_lines, name="buying-lines"),
    path("orders/<int:pk>/send/", views.buying_send, name="buying-send"),
    path("orders/<int:pk>/expect/", views.buying_expect, name="buying-expect"),
    path("orders/<int:pk>/short/", views.buying_short, name="buying-short"),
    path("orders/<int:pk>/drop/", views.buying_drop, name="buying-drop"),
    path("orders/<int:pk>/list.csv", views.buying_list, name="buying-list"),
    path("orders/<int:pk>/came/", arrive_views.buying_arrive, name="buying-arrive"),
    path("deliveries/<int:pk>/bill/", arrive_views.buying_bill, name="buying-bill"),
    path("arrivals/<int:pk>/back/", arrive_views.buying_back, name="buying-back"),
    path("suppliers/new/", supplier_views.buying_supplier_new, name="buying-supplier-new"),
    path("suppliers/<int:pk>/", supplier_views.buying_supplier, name="buying-supplier"),
    path("suppliers/<int:pk>/change/", supplier_views.buying_supplier_change, name="buying-supplier-change"),
    path("suppliers/<int:pk>/away/", supplier_views.buying_supplier_away, name="buying-supplier-away"),
    path("suppliers/<int:pk>/closed/", supplier_views.buying_closed, name="buying-closed"),
    path("suppliers/<int:pk>/order/", views.buying_new, name="buying-new"),
    path("suppliers/<int:pk>/draft/", views.buying_draft, name="buying-draft"),
    path("suppliers/<int:pk>/sells/", supplier_views.buying_offer_new, name="buying-offer-new"),
    path("closed/<int:pk>/away/", supplier_views.buying_closed_away, name="buying-closed-away"),
    path("sells/<int:pk>/", supplier_views.buying_offer, name="buying-offer"),
    path("sells/<int:pk>/away/", supplier_views.buying_offer_away, name="buying-offer-away"),
]
