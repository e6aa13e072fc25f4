from django.urls import path

from shopfloor.requests import acts, companion, views

app_name = "requests"
urlpatterns = [
    path("", views.overview, name="list"),
    path("requests.<str:kind>", views.file, name="file"),
    path("causes/", views.causes, name="causes"),
    path("find/", views.find, name="find"),
    path("drum/<str:serial>/", views.drum, name="drum"),
    path("<str:number>/", views.request_page, name="request"),
    path("<str:number>/note.pdf", views.note, name="note"),
    path("<str:number>/change/", acts.change, name="change"),
    path("<str:number>/pick/", acts.pick, name="pick"),
    path("<str:number>/send/", acts.send, name="send"),
    path("<str:number>/answer/", acts.answer, name="answer"),
    path("<str:number>/reopen/", acts.reopen, name="reopen"),
    path("<str:number>/forget/", acts.forget, name="forget"),
    path("<str:number>/companion/", companion.companion, name="companion"),
]
