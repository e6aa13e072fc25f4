from django.urls import path

from shopfloor.bench import views

app_name = "bench"
urlpatterns = [
    path("", views.bench, name="bench"),
    path("save/", views.save, name="save"),
]
