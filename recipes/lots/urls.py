"""Addresses of the pots, their logs and photos."""

from __future__ import annotations

from django.urls import path

from recipes.lots import (
    colourway_views,
    finishing_views,
    lay_views,
    load_views,
    log_views,
    redye_views,
    views,
    way_views,
)
from recipes.lots.usual_views import dye_usual, pot_usual

urlpatterns = [
    path("pots/", views.pots, name="pots"),
    path("pots/new/", load_views.pot_new, name="pot-new"),
    path("pots/<str:code>/", views.pot, name="pot"),
    path("pots/<str:code>/load/", load_views.pot_load, name="pot-load"),
    path("pots/<str:code>/yarn/", load_views.pot_yarn, name="pot-yarn"),
    path("pots/<str:code>/put-back/", load_views.pot_unload, name="pot-unload"),
    path("pots/<str:code>/weight/", load_views.pot_weight, name="pot-weight"),
    path("pots/<str:code>/bath/", load_views.pot_bath, name="pot-bath"),
    path("pots/<str:code>/bath/left/", load_views.pot_left, name="pot-left"),
    path("pots/<str:code>/usual/", pot_usual, name="pot-usual"),
    path("store/dyes/<int:pk>/usual/", dye_usual, name="dye-usual"),
    path("pots/<str:code>/lay/", lay_views.pot_lay, name="pot-lay"),
    path("pots/<str:code>/log/", log_views.pot_log, name="pot-log"),
    path("pots/<str:code>/reading/", log_views.pot_reading, name="pot-reading"),
    path("pots/<str:code>/touch/", log_views.pot_tap, name="pot-tap"),
    path("pots/<str:code>/again/", log_views.pot_again, name="pot-again"),
    path("pots/<str:code>/step/<int:number>/", log_views.pot_step, name="pot-step"),
    path("pots/<str:code>/photo/", log_views.pot_photo, name="pot-photo"),
    path("pots/<str:code>/entry/<uuid:key>/strike/", log_views.entry_strike, name="pot-entry-strike"),
    path("pots/<str:code>/entry/<uuid:key>/correct/", log_views.entry_correct, name="pot-entry-correct"),
    path("pots/<str:code>/entry/<uuid:key>/back/", log_views.entry_back, name="pot-entry-back"),
    path("pots/<str:code>/entry/<uuid:key>/answer/", log_views.entry_answer, name="pot-entry-answer"),
    path("pots/<str:code>/out/", finishing_views.pot_out, name="pot-out"),
    path("lots/<str:code>/", finishing_views.lot, name="lot"),
    path("lots/<str:code>/judge/", finishing_views.lot_judge, name="lot-judge"),
    path("lots/<str:code>/photo/", finishing_views.lot_photo, name="lot-photo"),
    path("lots/<str:code>/repeat/<int:base>/", finishing_views.lot_repeat, name="lot-repeat"),
    path("lots/<str:code>/back/<int:pk>/", finishing_views.judgement_back, name="judgement-back"),
    path("pots/<str:code>/drop/", redye_views.pot_drop, name="pot-drop"),
    path("pots/<str:code>/repeatable/", way_views.way_new, name="way-new"),
    path("pots/<str:code>/repeatable/answer/", way_views.way_answer, name="way-answer"),
    path("pots/<str:code>/as-done/", way_views.way_as_done, name="way-as-done"),
    path("ways/<int:pk>/", way_views.way, name="way"),
    path("ways/<int:pk>/correct/", way_views.way_correct, name="way-correct"),
    path("colourways/", colourway_views.colourways, name="colourways"),
    path("colourways/<str:code>/", colourway_views.colourway, name="colourway"),
    path("colourways/<str:code>/name/", colourway_views.colourway_name, name="colourway-name"),
    path("colourways/<str:code>/secret/", colourway_views.colourway_secret, name="colourway-secret"),
    path("colourways/<str:code>/families/", colourway_views.colourway_families, name="colourway-families"),
    path("colourways/<str:code>/snip/", colourway_views.colourway_snip, name="colourway-snip"),
    path("colourways/<str:code>/redye/", redye_views.redye, name="redye"),
    path("redye/<int:pk>/", redye_views.redye_plan, name="redye-plan"),
    path("photos/<uuid:key>/", log_views.photo, name="photo"),
    path("photos/<uuid:key>/small/", log_views.photo_small, name="photo-small"),
]
