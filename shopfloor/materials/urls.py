from django.urls import path

from shopfloor.materials import holds, views

app_name = "materials"
urlpatterns = [
    path("", views.lots, name="list"),
    path("new/", views.new_lot, name="new"),
    path("lots/<int:pk>/", views.lot, name="lot"),
    path("lots/<int:pk>/state/", views.state, name="state"),
    path("glue/", views.batches, name="batches"),
    path("glue/<int:pk>/", views.batch, name="batch"),
    path("lots/<int:pk>/hold/", holds.hold_lot_again, name="hold_lot"),
    path("glue/<int:pk>/hold/", holds.hold_batch, name="hold_batch"),
    path("holds/<int:pk>/", holds.hold, name="hold"),
    path("holds/<int:pk>/drums.csv", holds.as_csv, name="hold_csv"),
    path("holds/<int:pk>/drums.xlsx", holds.as_xlsx, name="hold_xlsx"),
    path("holds/<int:pk>/release/", holds.release, name="release"),
]
