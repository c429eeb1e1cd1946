"""The database itself refuses to change what is evidence: each guarded table still has its trigger."""

import pytest
from django.db import connection

GUARDED = [
    "jobs_journalentry",
    "jobs_promise",
    "jobs_decision",
    "jobs_readinground",
    "jobs_reading",
    "estimates_offer",
    "estimates_revision",
    "estimates_payment",
    "estimates_hoursaccepted",
    "estimates_offercosts",
    "estimates_revisioncosts",
    "estimates_dayforecast",
]

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("table", GUARDED)
def test_a_trigger_stands_on_the_table_after_all_migrations(table):
    query = (
        "SELECT count(*) FROM pg_trigger WHERE tgname = %s AND tgrelid = %s::regclass"
        if connection.vendor == "postgresql"
        else "SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND name = %s AND tbl_name = %s"
    )
    with connection.cursor() as cursor:
        cursor.execute(query, [f"{table}_unchangeable", table])

        assert cursor.fetchone() == (1,)
