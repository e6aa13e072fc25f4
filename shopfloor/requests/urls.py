from django.urls import URLPattern

app_name = "requests"
urlpatterns: list[URLPattern] = []
