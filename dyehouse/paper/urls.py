"""Addresses of the printing room."""

from __future__ import annotations

from django.urls import path

from dyehouse.paper import (
    book_views,
    design_views,
    document_views,
    dye_list_paper,
    kit_labels,
    long_views,
    order_paper,
    parcel_paper,
    room_views,
    sheet_views,
    show_views,
    views,
    year_views,
)

urlpatterns = [
    path("", room_views.printing, name="printing"),
    path("labels/", views.labels, name="labels"),
    path("labels/sheet/", views.labels_sheet, name="labels-sheet"),
    path("labels/fibres/<int:pk>/", design_views.label_fibres, name="label-fibres"),
    path("tag/<str:code>/", views.wet_tag, name="wet-tag"),
    path("days/", document_views.days, name="numbers-of-days"),
    path("kit/<int:pk>/", kit_labels.kit_label, name="kit-label"),
    path("places/", document_views.places, name="shelf-labels"),
    path("count/", document_views.count, name="count-sheets"),
    path("shows/<int:pk>/", show_views.show_lists, name="shows-paper"),
    path("mixing/", document_views.mixing, name="mixing-list"),
    path("dye-list/", dye_list_paper.dye_list_on_paper, name="dyelist-paper"),
    path("orders/<int:pk>/", order_paper.order_on_paper, name="buying-paper"),
    path("parcels/<str:code>/pick/", parcel_paper.pick_list_paper, name="parcel-pick-paper"),
    path("parcels/<str:code>/slips/", parcel_paper.slips_paper, name="parcel-slips-paper"),
    path("parcels/<str:code>/cards/", parcel_paper.cards_paper, name="parcel-cards-paper"),
    path("parcels/<str:code>/addresses/", parcel_paper.address_labels_paper, name="parcel-addresses-paper"),
    path("book/", book_views.colour_book, name="colour-book"),
    path("book/list.csv", book_views.colour_book_list, name="colour-book-list"),
    path("year/<int:pk>/", year_views.print_year, name="costs-year-print"),
    path("again/<int:pk>/", views.print_again, name="labels-again"),
    path("long/<uuid:key>/", long_views.long_printing, name="long-printing"),
    path("long/<uuid:key>/cancel/", long_views.cancel, name="long-printing-cancel"),
    path("designs/", design_views.designs, name="label-designs"),
    path("designs/new/", design_views.new_design, name="label-design-new"),
    path("designs/sample/<slug:slug>/", design_views.sample, name="label-sample"),
    path("designs/<int:pk>/", design_views.design, name="label-design"),
    path("designs/<int:pk>/drop/", design_views.drop_design, name="label-design-drop"),
    path("sheets/", sheet_views.sheets, name="sheets"),
    path("sheets/new/", sheet_views.new_sheet, name="sheet-new"),
    path("sheets/<slug:slug>/", sheet_views.sheet, name="sheet"),
    path("sheets/<slug:slug>/change/", sheet_views.change_sheet, name="sheet-change"),
    path("sheets/<slug:slug>/drop/", sheet_views.drop_sheet, name="sheet-drop"),
    path("outline/<slug:slug>/", sheet_views.sheet_outline, name="labels-outline"),
]
