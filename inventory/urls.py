"""Addresses of the shelf."""

from __future__ import annotations

from django.urls import path

from inventory import (
    count_views,
    hold_views,
    kit_views,
    match_views,
    opening_views,
    putup_views,
    views,
    way_views,
)

urlpatterns = [
    path("", views.shelf, name="shelf"),
    path("place/new/", views.shelf_place_new, name="shelf-place-new"),
    path("place/<int:pk>/", views.shelf_place, name="shelf-place"),
    path("place/<int:pk>/close/", views.shelf_place_close, name="shelf-place-close"),
    path("aside/", hold_views.holds, name="holds"),
    path("aside/<int:pk>/", hold_views.hold, name="hold"),
    path("aside/<int:pk>/longer/", hold_views.hold_longer, name="hold-longer"),
    path("aside/<int:pk>/let-go/", hold_views.hold_let_go, name="hold-let-go"),
    path("aside/<int:pk>/over/", hold_views.hold_over, name="hold-over"),
    path("counts/", count_views.counts, name="counts"),
    path("counts/place/<int:pk>/", count_views.count_start, name="count-start"),
    path("counts/<int:pk>/", count_views.count_round, name="count-round"),
    path("counts/<int:pk>/settle/", count_views.count_settle, name="count-settle"),
    path("scan/", count_views.scan, name="scan"),
    path("way/", way_views.way_on, name="shelf-way"),
    path("way/<slug:code>/", way_views.way_move, name="shelf-way-move"),
    path("set/<int:dyed>/", match_views.matching_set, name="matching-set"),
    path("kits/", kit_views.kits, name="kits"),
    path("kits/new/", kit_views.kit_new, name="kit-new"),
    path("kits/one/", kit_views.kit_one, name="kit-one"),
    path("kits/<int:pk>/", kit_views.kit, name="kit"),
    path("kits/built/<str:code>/break/", kit_views.kit_break, name="kit-break"),
    path("wound/", putup_views.putups, name="putup"),
    path("wound/<int:pk>/back/", putup_views.putup_back, name="putup-back"),
    path("wound/mill-lot/<int:pk>/<int:put_up_pk>/", putup_views.putup_undyed, name="putup-undyed"),
    path("before/", opening_views.opening, name="opening"),
    path("before/list/", opening_views.opening_list, name="opening-list"),
    path("before/list/take/", opening_views.opening_take, name="opening-take"),
    path("before/example/<slug:name>.csv", opening_views.opening_example, name="opening-example"),
    path("before/dyed/", opening_views.opening_dyed, name="opening-dyed"),
    path("<str:code>/away/", views.shelf_move, name="shelf-move"),
    path("<str:code>/away/<int:place>/", views.shelf_move, name="shelf-move-on"),
    path("<str:code>/aside/<int:dyed>/<int:place>/", hold_views.hold_new, name="hold-new"),
    path("<str:code>/look/<int:dyed>/<int:place>/", way_views.call_it, name="call-it"),
    path("<str:code>/matches/", match_views.lot_matches, name="lot-matches"),
    path("<str:code>/matches/<int:pk>/back/", match_views.match_back, name="match-back"),
    path("<str:code>/wind/<int:dyed>/<int:place>/", putup_views.putup_dyed, name="putup-dyed"),
    path("<str:code>/count/<int:dyed>/<int:place>/", views.shelf_count, name="shelf-count"),
]
