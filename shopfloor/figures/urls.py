from django.urls import path

from shopfloor.figures import views

app_name = "figures"
urlpatterns = [
    path("", views.overview, name="overview"),
    path("yields.<str:kind>", views.yields_file, name="yields_file"),
    path("findings/", views.findings, name="findings"),
    path("findings.<str:kind>", views.findings_file, name="findings_file"),
    path("check/<slug:code>/", views.check, name="check"),
    path("check/<slug:code>.<str:kind>", views.check_file, name="check_file"),
]
