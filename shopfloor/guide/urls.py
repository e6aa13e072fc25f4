from django.urls import path

from shopfloor.guide import views

app_name = "guide"
urlpatterns = [
    path("", views.index, name="index"),
    path("<slug:who>/", views.page, name="page"),
    path("<slug:who>/card.pdf", views.card, name="card"),
]
