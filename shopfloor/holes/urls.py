from django.urls import path

from shopfloor.holes import views

app_name = "holes"
urlpatterns = [
    path("<str:serial>/", views.holes, name="holes"),
    path("<str:serial>/map.dxf", views.dxf, name="dxf"),
    path("<str:serial>/template.pdf", views.template, name="template"),
    path("<str:serial>/program.ngc", views.program, name="program"),
]
