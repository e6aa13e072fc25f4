from django.urls import path

from shopfloor.certificate import views

app_name = "certificate"
urlpatterns = [path("<str:serial>.pdf", views.pdf, name="pdf")]
