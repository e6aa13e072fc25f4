from django.urls import path

from shopfloor.packing import stock, views

app_name = "packing"
urlpatterns = [
    path("", views.orders, name="list"),
    path("orders/<str:number>/", views.order, name="order"),
    path("orders/<str:number>/pick-list.pdf", views.order_list, name="order_list"),
    path("drums/<str:serial>/", views.drum, name="drum"),
    path("drums/<str:serial>/bag/", views.bag, name="bag"),
    path("drums/<str:serial>/pick-list.pdf", views.drum_list, name="drum_list"),
    path("drums/<str:serial>/label/<int:place>/", views.label, name="label"),
    path("shortages/", stock.shortages_page, name="shortages"),
    path("shelf/", stock.shelf, name="shelf"),
    path("shelf/count/", stock.count, name="count"),
    path("shelf/receive/", stock.receive, name="receive"),
]
