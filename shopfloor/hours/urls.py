from django.urls import path

from shopfloor.hours import views

app_name = "hours"
urlpatterns = [
    path("", views.page, name="page"),
    path("people/<int:pk>/", views.person, name="person"),
    path("people/<int:pk>/away-today/", views.away_today, name="away_today"),
    path("<slug:kind>/new/", views.add, name="add"),
    path("<slug:kind>/<int:pk>/", views.change, name="change"),
    path("<slug:kind>/<int:pk>/remove/", views.remove, name="remove"),
]
