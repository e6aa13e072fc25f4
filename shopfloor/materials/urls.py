from django.urls import path

from shopfloor.materials import views

app_name = "materials"
urlpatterns = [
    path("", views.lots, name="list"),
    path("new/", views.new_lot, name="new"),
    path("lots/<int:pk>/", views.lot, name="lot"),
    path("lots/<int:pk>/state/", views.state, name="state"),
    path("glue/", views.batches, name="batches"),
    path("glue/<int:pk>/", views.batch, name="batch"),
]
