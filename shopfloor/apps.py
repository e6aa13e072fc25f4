from django.apps import AppConfig


class ShopfloorConfig(AppConfig):
    name = "shopfloor"
