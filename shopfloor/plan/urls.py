from django.urls import path

from shopfloor.plan import views

app_name = "plan"
urlpatterns = [
    path("", views.home, name="home"),
    path("make/", views.make, name="make"),
    path("<int:pk>/stop/", views.stop, name="stop"),
    path("picture/", views.picture, name="picture"),
    path("picture.pdf", views.picture_pdf, name="picture_pdf"),
    path("work/", views.work_lists, name="work_lists"),
    path("work/<slug:code>/", views.work_list, name="work_list"),
    path("work/<slug:code>.pdf", views.work_list_pdf, name="work_list_pdf"),
    path("what-if/", views.what_if_page, name="what_if"),
    path("weight/<str:number>/", views.weight, name="weight"),
]
