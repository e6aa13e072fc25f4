from django.urls import path

from shopfloor.board import views

app_name = "board"
urlpatterns = [
    path("", views.by_station, name="board"),
    path("kits/", views.by_kit, name="kits"),
    path("age/", views.by_age, name="age"),
    path("wall/", views.wall, name="wall"),
    path("ahead/", views.days_ahead, name="ahead"),
    path("station/<slug:code>/", views.station, name="station"),
]
