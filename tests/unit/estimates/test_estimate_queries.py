"""An estimate takes as many queries whatever the number of its lines, a plan whatever the number of coaches."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from estimates.inputs import read_shop
from estimates.services.scope import issue_revision
from estimates.sheet import read_sheet
from jobs.models import Job
from jobs.services.work import NewOperation, write_operations
from tests.factories import (
    NOON,
    ApprovalRequestFactory,
    BayFactory,
    JobFactory,
    OfferFactory,
    OperationFactory,
    PersonFactory,
    RemedyFactory,
    ShopFactory,
    SkillFactory,
)
from tests.scenes import opened_coach

pytestmark = pytest.mark.django_db


def queries_of(act):
    with CaptureQueriesContext(connection) as queries:
        act()
    return len(queries)


def repeated(group, number):
    """The group with line keys of its own."""
    return group | {"lines": [line | {"key": f"{line['key']}-{number}"} for line in group["lines"]]}


@pytest.mark.parametrize("act", ["issue", "read"])
def test_a_revision_of_many_lines_takes_no_more_queries_than_one_of_few(act):
    few = opened_coach(NOON).job.revisions.get().content["groups"]
    many = [repeated(group, number) for number in range(15) for group in few]

    def count(groups):
        job = Job.objects.get()  # nothing read before
        entry = job.entries.exclude(pk__in=job.revisions.values("entry")).order_by("-number")[0]
        if act == "issue":
            return queries_of(lambda: issue_revision(job, entry, groups, "at the desk", now=NOON))
        revision = issue_revision(job, entry, groups, "at the desk", now=NOON)
        return queries_of(lambda: read_sheet(revision))

    assert sum(len(group["lines"]) for group in many) >= 60
    assert count(many) == count(few)


def test_many_operations_are_written_with_as_many_queries_as_two():
    skill = OperationFactory().skill

    def count(number):
        remedy = RemedyFactory()
        new = [
            NewOperation(phase=3, words=f"Step {each}", kind="labour", hours=1.0, skill=skill, hold_point="Tight")
            for each in range(number)
        ]
        return queries_of(lambda: write_operations(remedy=remedy, operations=new, now=NOON))

    assert count(20) == count(2)


def test_the_shop_is_read_and_planned_with_as_many_queries_for_six_coaches_as_for_one():
    shop = ShopFactory()
    skill = SkillFactory(shop=shop)
    person = PersonFactory(shop=shop)
    person.skills.add(skill)
    BayFactory(shop=shop)

    def add_coach():
        job = JobFactory(shop=shop, arrived=True)
        for running in (True, False):
            operation = OperationFactory(remedy__finding__job=job, running=running, skill=skill)
            operation.workers.add(person)
        asked = RemedyFactory(finding__job=job)
        offer = OfferFactory(remedy=asked)
        ApprovalRequestFactory(remedy=asked, offer_sha256=offer.sha256)

    add_coach()
    one = queries_of(lambda: read_shop(shop, NOON).ready())
    for _ in range(5):
        add_coach()

    assert queries_of(lambda: read_shop(shop, NOON).ready()) == one
    assert len(read_shop(shop, NOON).pending) == 6
