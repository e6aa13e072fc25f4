from django.urls import path

from shopfloor.cartons import papers, views

app_name = "cartons"
urlpatterns = [
    path("", views.orders, name="list"),
    path("<str:number>/", views.order, name="order"),
    path("<str:number>/packing-list.pdf", papers.packing_list, name="packing_list"),
    path("<str:number>/labels.pdf", papers.labels, name="labels"),
    path("<str:number>/<int:carton>/close/", views.close, name="close"),
    path("<str:number>/<int:carton>/open/", views.open_, name="open"),
    path("<str:number>/<int:carton>/label.pdf", papers.label, name="label"),
]
