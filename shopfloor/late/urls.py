from django.urls import path

from shopfloor.late import views

app_name = "late"
urlpatterns = [
    path("", views.find, name="find"),
    path("<str:serial>/", views.shell, name="shell"),
]
