"""Addresses of the store."""

from __future__ import annotations

from django.urls import path

from recipes import dyestuff_views, mix_views, retiring_views, store_views, weighing, yarn_views

urlpatterns = [
    path("", store_views.store, name="store"),
    path("no-longer-used/", retiring_views.retired, name="store-retired"),
    path("bases/<int:pk>/retire/", retiring_views.base_retire, name="base-retire"),
    path("dyes/<int:pk>/retire/", retiring_views.dye_retire, name="dye-retire"),
    path("auxiliaries/<int:pk>/retire/", retiring_views.auxiliary_retire, name="auxiliary-retire"),
    path("bases/new/", yarn_views.base_new, name="base-new"),
    path("bases/<int:pk>/", yarn_views.base, name="base"),
    path("bases/<int:pk>/change/", yarn_views.base_change, name="base-change"),
    path("bases/<int:pk>/put-up/", yarn_views.base_put_up, name="base-put-up"),
    path("bases/<int:pk>/yarn-in/", yarn_views.base_yarn_in, name="base-yarn-in"),
    path("put-ups/<int:pk>/", yarn_views.put_up, name="put-up"),
    path("put-ups/<int:pk>/weigh/", weighing.weigh_some, name="put-up-weigh"),
    path("mill-lots/<int:pk>/<int:put_up_pk>/", yarn_views.mill_lot, name="mill-lot"),
    path("dyes/new/", dyestuff_views.dye_new, name="dye-new"),
    path("dyes/<int:pk>/", dyestuff_views.dye, name="dye"),
    path("dyes/<int:pk>/change/", dyestuff_views.dye_change, name="dye-change"),
    path("dyes/<int:pk>/jar/", dyestuff_views.dye_jar, name="dye-jar"),
    path("jars/<int:pk>/", dyestuff_views.jar, name="jar"),
    path("jars/<int:pk>/weigh/", dyestuff_views.jar_weigh, name="jar-weigh"),
    path("jars/<int:pk>/tare/", dyestuff_views.jar_tare, name="jar-tare"),
    path("jars/<int:pk>/count/", dyestuff_views.jar_count, name="jar-count"),
    path("jars/<int:pk>/finish/", dyestuff_views.jar_finish, name="jar-finish"),
    path("stock/new/", store_views.stock_new, name="stock-new"),
    path("stock/powder/", store_views.stock_powder, name="stock-powder"),
    path("bottles/<int:pk>/", store_views.bottle, name="bottle"),
    path("bottles/<int:pk>/count/", store_views.bottle_count, name="bottle-count"),
    path("bottles/<int:pk>/finish/", store_views.bottle_finish, name="bottle-finish"),
    path("mixes/", mix_views.mixes, name="mixes"),
    path("mixes/new/", mix_views.mix_new, name="mix-new"),
    path("mixes/comes-to/", mix_views.mix_comes_to, name="mix-comes-to"),
    path("mixes/<str:code>/", mix_views.mix, name="mix"),
    path("mixes/<str:code>/count/", mix_views.mix_count, name="mix-count"),
    path("mixes/<str:code>/finish/", mix_views.mix_finish, name="mix-finish"),
    path("auxiliaries/new/", store_views.auxiliary_new, name="auxiliary-new"),
    path("auxiliaries/<int:pk>/", store_views.auxiliary, name="auxiliary"),
    path("auxiliaries/<int:pk>/change/", store_views.auxiliary_change, name="auxiliary-change"),
    path("auxiliaries/<int:pk>/in/", store_views.auxiliary_in, name="auxiliary-in"),
    path("auxiliaries/<int:pk>/count/", store_views.auxiliary_count, name="auxiliary-count"),
]
