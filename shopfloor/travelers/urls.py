from django.urls import path

from shopfloor.travelers import views

app_name = "travelers"
urlpatterns = [
    path("shell/<str:serial>/", views.print_shell, name="print_shell"),
    path("shell/<str:serial>/preview/", views.preview, name="preview"),
    path("order/<str:number>/", views.print_order, name="print_order"),
    path("order/<str:number>/ahead/", views.ahead, name="ahead"),
    path("selection/", views.print_selection, name="print_selection"),
    path("print/<int:pk>/", views.print_page, name="print"),
    path("print/<int:pk>/file.pdf", views.print_file, name="file"),
]
