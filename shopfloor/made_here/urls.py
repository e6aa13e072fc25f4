from django.urls import path

from shopfloor.made_here import views

app_name = "made_here"
urlpatterns = [
    path("", views.overview, name="list"),
    path("begin/", views.begin, name="begin"),
    path("routes/new/", views.new_route, name="new_route"),
    path("routes/<slug:code>/", views.route, name="route"),
]
