from django.urls import path

from shopfloor.orders import views

app_name = "orders"
urlpatterns = [
    path("", views.order_list, name="list"),
    path("new/", views.new_order, name="new"),
    path("import/", views.import_book, name="import"),
    path("import/confirm/", views.confirm_import, name="confirm_import"),
    path("order/<str:number>/", views.order, name="order"),
    path("order/<str:number>/edit/", views.edit_order, name="edit"),
    path("order/<str:number>/delete/", views.delete_order, name="delete"),
    path("order/<str:number>/kit/", views.kit, name="kit"),
    path("order/<str:number>/release/", views.release, name="release"),
    path("order/<str:number>/ship/", views.ship, name="ship"),
]
