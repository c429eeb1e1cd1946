"""The whole shop put together: settings, urls, worker app, the manager's screens."""

from shopfloor.celery import app as celery_app

__all__ = ["celery_app"]
