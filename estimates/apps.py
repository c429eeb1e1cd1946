from importlib import import_module

from django.apps import AppConfig


class EstimatesConfig(AppConfig):
    name = "estimates"

    def ready(self) -> None:
        import_module("estimates.reactions")  # registers them with the journal
