from django.urls import URLPattern

app_name = "figures"
urlpatterns: list[URLPattern] = []
