from django.urls import path

from shopfloor.cutting import views

app_name = "cutting"
urlpatterns = [
    path("", views.cutting_plan, name="plan"),
    path("<int:pk>/", views.job, name="job"),
    path("<int:pk>/stop/", views.stop, name="stop"),
]
