from django.urls import path

from shopfloor.tablets import views

app_name = "tablets"
urlpatterns = [
    path("", views.tablets, name="list"),
    path("new/", views.new_tablet, name="new"),
    path("here/", views.here, name="here"),
    path("<int:pk>/", views.tablet, name="tablet"),
    path("<int:pk>/revoke/", views.revoke_tablet, name="revoke"),
    path("<int:pk>/unlock/", views.unlock, name="unlock"),
]
