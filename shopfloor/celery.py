"""The Celery app and its beat schedule. Imports none of ours, so every app may use it."""

import os

from celery import Celery
from django.conf import settings

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopfloor.settings")

app = Celery("shopfloor")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
app.conf.beat_schedule = {
    "sweep-reactions": {
        "task": "jobs.react",
        "schedule": settings.SWEEP_SECONDS,
        "options": {"expires": settings.SWEEP_SECONDS},
    },
    "replan-shops": {"task": "estimates.replan_shops", "schedule": 900.0, "options": {"expires": 900.0}},
    "work-out-odds": {"task": "estimates.work_out_odds", "schedule": 60.0, "options": {"expires": 60.0}},
    "look-for-orders": {"task": "estimates.look_for_orders", "schedule": 15.0, "options": {"expires": 15.0}},
}
