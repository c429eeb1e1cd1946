from importlib import import_module

from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"

    def ready(self) -> None:
        import_module("jobs.reactions")  # registers them with the journal
