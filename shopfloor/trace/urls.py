from django.urls import path

from shopfloor.trace import views

app_name = "trace"
urlpatterns = [
    path("photo/<int:pk>/", views.photo, name="photo"),
    path("", views.search, name="search"),
    path("person/<int:pk>/", views.person, name="person"),
    path("<str:serial>/", views.shell, name="shell"),
    path("<str:serial>/story.json", views.shell_json, name="json"),
    path("<str:serial>/story.pdf", views.shell_pdf, name="pdf"),
    path("<str:serial>/settle/", views.settle, name="settle"),
    path("<str:serial>/reissue/", views.reissue, name="reissue"),
    path("<str:serial>/withdraw/<int:position>/", views.withdraw, name="withdraw"),
]
