"""Work of the demo, with the clock: who was on what, off for lunch and the night, and what it took."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from estimates.calc.takeoff import count_words
from estimates.models import Material
from jobs.models import Operation, Person, WorkSpan
from jobs.services import clock, work
from shopfloor.demo.telling import Demo


@dataclass
class Stint:
    """The next operation of a job that may start, from its start to its finish."""

    demo: Demo
    key: str
    leader: Person
    operation: Operation | None = None
    helpers: list[Person] = field(default_factory=list)

    def begin(self, now: datetime) -> None:
        """The leader leaves what they were on; whoever is free helps where it takes more than one."""
        waiting = Operation.objects.unfinished().filter(job=self.demo.jobs[self.key], started_at__isnull=True)
        operation = next(each for each in waiting if not work.what_blocks(each))
        self.operation = work.start_operation(operation_id=operation.pk, by=self.leader, now=now)
        if operation.skill_id:
            able = Person.objects.filter(shop=self.demo.shop, skills=operation.skill_id).exclude(pk=self.leader.pk)
            free = able.exclude(spans__in=WorkSpan.objects.open()).order_by("pk")
            self.helpers = list(free[: operation.crew - 1])
        self.come_back(now)

    def come_back(self, now: datetime) -> None:
        """All who are on nothing else go on."""
        for person in [self.leader, *self.helpers]:
            if not WorkSpan.objects.open().filter(person=person).exists():
                work.start_operation(operation_id=self._running.pk, by=person, now=now)

    def stop(self, now: datetime) -> None:
        for span in WorkSpan.objects.open().filter(operation=self._running).select_related("person"):
            clock.clock_off(person=span.person, now=now)

    def end(self, now: datetime) -> None:
        work.finish_operation(operation_id=self._running.pk, by=self.leader, now=now)

    @property
    def _running(self) -> Operation:
        if self.operation is None:
            raise ValueError("the stint has not begun")
        return self.operation


def do_work(
    demo: Demo, key: str, start: datetime, finish: datetime | None, *, by: str = "tobias", forgets: bool = False
) -> None:
    """Start the next operation that may start; finish it, unless it is left running.

    All who are on it go off the clock at each closing time on the way, lunch too, and come back on; with `forgets`
    they did not on the last evening.
    """
    stint = Stint(demo, key, demo.people[by])
    demo.plan_event(start, stint.begin)
    until = finish or demo.now
    last_evening = demo.at(1, 12, 30)
    for opens, closes in demo.shop.calendar().shifts(start, until):
        if opens > start:
            demo.plan_event(opens, stint.come_back)
        if closes < until and not (forgets and closes > last_evening):
            demo.plan_event(closes, stint.stop)
    if finish:
        demo.plan_event(finish, stint.end)


def take_material(demo: Demo, key: str, moment: datetime, uses: Sequence[tuple[str, int]]) -> None:
    """Note what the operation that was finished last has really taken, by the catalogue's names and as it is sold."""

    def note(now: datetime) -> None:
        done = Operation.objects.filter(job=demo.jobs[key], finished_at__isnull=False, kind="labour")
        operation = done.latest("finished_at")
        for name, quantity in uses:
            material = Material.objects.get(shop=demo.shop, name=name)
            unit = count_words(quantity, material.sold_unit).removeprefix(f"{quantity} ")
            clock.note_material(
                operation_id=operation.pk,
                key=uuid.uuid4(),
                name=name,
                quantity=quantity,
                unit=unit,
                by=demo.people["tobias"],
                now=now,
            )

    demo.plan_event(moment, note)
