from django.apps import AppConfig


class UpdatesConfig(AppConfig):
    name = "updates"
