from django.urls import path

from shopfloor.card import views

app_name = "card"
urlpatterns = [
    path("<str:serial>/print/", views.print_, name="print"),
    path("<str:serial>/<str:token>/", views.public, name="public"),
]
