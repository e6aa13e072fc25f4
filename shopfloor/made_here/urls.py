from django.urls import URLPattern

app_name = "made_here"
urlpatterns: list[URLPattern] = []
