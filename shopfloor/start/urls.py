from django.urls import path

from shopfloor.start import demo, views

app_name = "start"
urlpatterns = [
    path("", views.steps, name="steps"),
    path("skip/", views.skip_steps, name="skip"),
    path("stations/", views.take_stations, name="stations"),
    path("recipes/", views.take_recipes, name="recipes"),
    path("round/", demo.guided_round, name="round"),
    path("round/begin/", demo.begin, name="begin"),
    path("round/traced/", demo.traced, name="traced"),
    path("round/leave/", demo.leave, name="leave"),
    path("anew/", demo.anew, name="anew"),
]
