from django.urls import path

from shopfloor.trace import decisions, seals, views

app_name = "trace"
urlpatterns = [
    path("photo/<int:pk>/", views.photo, name="photo"),
    path("", views.search, name="search"),
    path("person/<int:pk>/", views.person, name="person"),
    path("seals/", seals.seals, name="seals"),
    path("seals/seals.pdf", seals.seals_pdf, name="seals_pdf"),
    path("seals/now/", seals.seal_now, name="seal_now"),
    path("seals/check/", seals.check_seals, name="check_seals"),
    path("<str:serial>/", views.shell, name="shell"),
    path("<str:serial>/story.json", views.shell_json, name="json"),
    path("<str:serial>/story.pdf", views.shell_pdf, name="pdf"),
    path("<str:serial>/settle/", views.settle, name="settle"),
    path("<str:serial>/rework/", decisions.rework_it, name="rework"),
    path("<str:serial>/use-as-is/", decisions.use_it_as_is, name="use_as_is"),
    path("<str:serial>/regrade/", decisions.regrade_it, name="regrade"),
    path("<str:serial>/scrap/", decisions.scrap_it, name="scrap"),
    path("<str:serial>/reissue/", views.reissue, name="reissue"),
    path("<str:serial>/withdraw/<int:position>/", views.withdraw, name="withdraw"),
]
