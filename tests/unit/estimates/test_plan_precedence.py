"""The order in which a job's tasks may be done."""

from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from estimates.calc.plan import PlanJob, Task
from estimates.calc.plan.precedence import in_order, places_before
from tests.factories import NOON

graphs = st.integers(0, 8).flatmap(
    lambda count: st.lists(
        st.dictionaries(st.integers(0, max(0, count - 1)), st.just(0)), min_size=count, max_size=count
    )
)


def test_a_longer_lag_to_the_same_task_holds_and_after_alone_is_none():
    hours = timedelta(hours=1)
    tasks = (
        Task("a", "A", "wait", hours),
        Task("b", "B", "wait", hours),
        Task("c", "C", "wait", hours, after=("a", "b"), lags=(("a", hours), ("a", 2 * hours))),
    )

    assert places_before(PlanJob("job", 5, NOON, tasks=tasks)) == [{}, {}, {0: 7200, 1: 0}]


def test_what_is_free_keeps_its_place_and_what_waits_comes_as_soon_as_it_may():
    assert in_order([{}, {3: 0}, {}, {}]) == [0, 2, 3, 1]


def test_a_circle_is_left_out_with_all_that_waits_for_it():
    assert in_order([{1: 0}, {0: 0}, {1: 0}, {}]) == [3]


@given(graphs)
def test_every_task_comes_after_those_before_it_and_only_circles_are_left_out(before):
    order = in_order(before)

    placed = {place: number for number, place in enumerate(order)}
    left = set(range(len(before))) - set(order)
    assert len(placed) == len(order)
    assert all(placed[earlier] < placed[place] for place in order for earlier in before[place])
    assert all(left & set(before[place]) for place in left)
