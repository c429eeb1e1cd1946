from importlib import import_module

from django.apps import AppConfig


class UpdatesConfig(AppConfig):
    name = "updates"

    def ready(self) -> None:
        import_module("updates.reactions")  # registers them with the journal
