from django.urls import path

from shopfloor.api import feed, reading, views

app_name = "api"
urlpatterns = [
    path("keys/", views.keys, name="keys"),
    path("keys/new/", views.new_key, name="new_key"),
    path("keys/<int:pk>/", views.key, name="key"),
    path("keys/<int:pk>/revoke/", views.revoke, name="revoke"),
    path("calendar/<str:secret>/due.ics", feed.due_dates, name="calendar"),
    path("v1/openapi.json", reading.openapi, name="openapi"),
    path("v1/orders", reading.order_list, name="orders"),
    path("v1/orders/<str:number>", reading.order, name="order"),
    path("v1/shells", reading.shell_list, name="shells"),
    path("v1/shells/<str:serial>", reading.shell, name="shell"),
    path("v1/shells/<str:serial>/story", reading.story, name="story"),
    path("v1/sign-offs", reading.sign_offs, name="sign_offs"),
    path("v1/figures", reading.figures, name="figures"),
    path("v1/<path:rest>", reading.nothing, name="nothing"),
]
