from django.urls import path

from shopfloor.scan import views

app_name = "scan"
urlpatterns = [
    path("", views.typed, name="scan"),
    path("<str:serial>/", views.scanned, name="shell"),
]
