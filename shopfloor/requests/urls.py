from django.urls import path

from shopfloor.requests import companion, views

app_name = "requests"
urlpatterns = [
    path("", views.overview, name="list"),
    path("requests.<str:kind>", views.file, name="file"),
    path("causes/", views.causes, name="causes"),
    path("find/", views.find, name="find"),
    path("drum/<str:serial>/", views.drum, name="drum"),
    path("<str:number>/", views.request_page, name="request"),
    path("<str:number>/note.pdf", views.note, name="note"),
    path("<str:number>/change/", views.change, name="change"),
    path("<str:number>/pick/", views.pick, name="pick"),
    path("<str:number>/send/", views.send, name="send"),
    path("<str:number>/answer/", views.answer, name="answer"),
    path("<str:number>/reopen/", views.reopen, name="reopen"),
    path("<str:number>/forget/", views.forget, name="forget"),
    path("<str:number>/companion/", companion.companion, name="companion"),
]
