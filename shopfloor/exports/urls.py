from django.urls import path

from shopfloor.exports import views

app_name = "exports"
urlpatterns = [
    path("", views.page, name="page"),
    path("<slug:what>.<slug:kind>", views.file, name="file"),
]
