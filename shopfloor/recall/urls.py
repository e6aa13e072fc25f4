from django.urls import path

from shopfloor.recall import views

app_name = "recall"
urlpatterns = [
    path("", views.find, name="find"),
    path("drums.csv", views.as_csv, name="csv"),
    path("drums.xlsx", views.as_xlsx, name="xlsx"),
]
