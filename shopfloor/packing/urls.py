from django.urls import URLPattern

app_name = "packing"
urlpatterns: list[URLPattern] = []
