from django.urls import path

from shopfloor.catalog import check_points, defects, routes, views

app_name = "catalog"
urlpatterns = [
    path("", views.index, name="index"),
    path("routes/", routes.route_list, name="routes"),
    path("routes/<str:role>/<str:finish_kind>/", routes.route, name="route"),
    path("checks/", check_points.check_list, name="checks"),
    path("checks/new/", check_points.new_check, name="new_check"),
    path("checks/<slug:code>/", check_points.check, name="check"),
    path("defects/", defects.defect_list, name="defects"),
    path("defects/new/", defects.new_defect, name="new_defect"),
    path("defects/<int:pk>/", defects.defect, name="defect"),
    path("<slug:kind>/", views.recipe_list, name="list"),
    path("<slug:kind>/new/", views.new_recipe, name="new"),
    path("<slug:kind>/<int:pk>/", views.recipe, name="recipe"),
]
