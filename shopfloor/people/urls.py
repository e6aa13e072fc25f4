from django.urls import path

from shopfloor.people import views

app_name = "people"
urlpatterns = [
    path("", views.people, name="list"),
    path("new/", views.new_person, name="new"),
    path("addresses/<int:pk>/", views.let_try, name="let_try"),
    path("matrix/", views.qualification_matrix, name="matrix"),
    path("matrix/matrix.csv", views.matrix_csv, name="matrix_csv"),
    path("matrix/matrix.xlsx", views.matrix_xlsx, name="matrix_xlsx"),
    path("shop/", views.shop_settings, name="shop"),
    path("<int:pk>/", views.person, name="person"),
    path("<int:pk>/pin/", views.pin, name="pin"),
    path("<int:pk>/password/", views.password, name="password"),
    path("<int:pk>/unlock/", views.unlock_person, name="unlock"),
]
