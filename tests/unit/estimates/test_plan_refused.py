"""Which coaches keep a shop from being planned: each alone, beside others, and the shop itself."""

from dataclasses import replace

from estimates.calc.plan import refused_jobs
from tests.unit.estimates.test_plan import job, labour, problem, shifts


def refused(asked):
    return refused_jobs(asked, lambda prepared: prepared.ready())


def test_a_coach_that_no_bay_is_long_enough_for_is_named_with_the_reason_and_no_other():
    long = job(labour("frame", 4, needs_bay=True), key="long", bay_choices=())

    found = refused(problem(job(labour("frame", 4, needs_bay=True), key="short"), long))

    assert list(found) == ["long"]
    assert found["long"].startswith("No bay is long enough for the coach of long")


def test_a_coach_whose_work_nobody_can_do_is_named():
    found = refused(problem(job(labour("weld", 4, skill="weld"), key="welded"), job(labour("frame", 4))))

    assert list(found) == ["welded"]


def test_work_that_does_not_end_within_the_horizon_is_refused_with_its_coach():
    found = refused(problem(job(labour("frame", 400), key="endless"), job(labour("frame", 4)), shifts=shifts(14)))

    assert list(found) == ["endless"]
    assert "cannot end by" in found["endless"]


def test_of_two_that_only_fail_together_the_one_that_goes_first_stays():
    first = job(labour("frame", 50), key="first", priority=1)
    later = job(labour("frame", 50), key="later", priority=2)

    assert list(refused(problem(later, first, shifts=shifts(14)))) == ["later"]


def test_a_shop_that_is_itself_at_fault_names_no_coach():
    assert refused(replace(problem(job(labour("frame", 4))), shifts=())) == {}


def test_a_shop_where_nobody_works_names_no_coach():
    assert refused(problem(job(labour("frame", 4)), workers=())) == {}


def test_a_shop_that_can_be_planned_refuses_nobody():
    assert refused(problem(job(labour("frame", 4)))) == {}
