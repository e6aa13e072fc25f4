from django.contrib.auth.views import LogoutView
from django.urls import path

from shopfloor.signin import views

app_name = "signin"
urlpatterns = [
    path("", views.OfficeSignIn.as_view(), name="office"),
    path("password/", views.own_password, name="password"),
    path("out/", LogoutView.as_view(), name="out"),
]
