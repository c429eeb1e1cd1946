"""Is the process up, is what it needs in reach: for whoever watches over the server. Says no more than that."""

import logging

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe
from kombu.exceptions import KombuError
from redis.exceptions import RedisError

from shopfloor.celery import app

log = logging.getLogger(__name__)

BROKER_SECONDS = 3


@require_safe
@login_not_required
def process_up(request: HttpRequest) -> HttpResponse:
    return HttpResponse("up\n", content_type="text/plain")


@require_safe
@login_not_required
def process_ready(request: HttpRequest) -> HttpResponse:
    """200 when database and broker answer, else 503; which of them fails stands in the log."""
    is_ready = all([_database_answers(), _broker_answers()])
    return HttpResponse(
        "ready\n" if is_ready else "not ready\n", content_type="text/plain", status=200 if is_ready else 503
    )


def _database_answers() -> bool:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        log.exception("the database does not answer")
        return False
    return True


def _broker_answers() -> bool:
    try:
        with app.connection_for_read() as broker:
            broker.ensure_connection(max_retries=1, interval_start=0, interval_step=0.1, timeout=BROKER_SECONDS)
    except (KombuError, RedisError, OSError):
        log.exception("the broker does not answer")
        return False
    return True
