"""Synthetic shops, seeded: coaches with chains of work side by side, waits, lags and holds; people, bays, blowers."""

import random
from datetime import UTC, datetime, time, timedelta

from estimates.calc.plan import PlanJob, Problem, Task, Worker

HOUR = timedelta(hours=1)
START = datetime(2026, 1, 5, 7, tzinfo=UTC)  # a Monday, opening time
SKILLS = ("body", "frame", "skin", "interior", "electric", "paint")


def shifts(days):
    """Seven to noon and half past twelve to half past four, Monday to Friday."""
    spans = []
    for number in range(days):
        day = (START + timedelta(days=number)).date()
        if day.weekday() < 5:
            for begin, end in ((time(7), time(12)), (time(12, 30), time(16, 30))):
                spans.append((datetime.combine(day, begin, UTC), datetime.combine(day, end, UTC)))
    return tuple(spans)


def people(chance, count):
    """Everybody has two or three skills; every skill has at least two people; some are away for some days."""
    skills = []
    for number in range(count):
        own = {SKILLS[number % len(SKILLS)], SKILLS[(number + 1 + number // len(SKILLS)) % len(SKILLS)]}
        skills.append(own | {chance.choice(SKILLS)})
    for skill in SKILLS:
        while sum(skill in own for own in skills) < 2:
            min((own for own in skills if skill not in own), key=len).add(skill)
    found = []
    for number, own in enumerate(skills):
        away = START + timedelta(days=chance.randrange(3, 60))
        spans = ((away, away + timedelta(days=chance.randrange(1, 6))),) if chance.random() < 0.5 else ()
        found.append(Worker(f"p{number:02}", frozenset(own), spans))
    return tuple(found)


def coach(chance, number, operations, bays, days, ends_at):
    """A coach: opening up, three strands side by side with a drying wait each, closing in with cures, a check."""
    tasks = [Task("open", "Open up", "labour", chance.randrange(2, 7) * HOUR, (("body", 1),), needs_bay=True)]
    strands = 3
    each = (operations - 6) // strands
    ends = []
    for strand in range(strands):
        before = "open"
        for step in range(each):
            key = f"s{strand}-{step}"
            tasks.append(_step(chance, key, before, is_drying=step == 1))
            before = key
        ends.append(before)
    tasks.append(Task("hold", "Hold point", "event", timedelta(0), after=tuple(ends), in_shop_hours=True))
    tasks.append(
        Task("bond", "Bond", "labour", chance.randrange(2, 5) * HOUR, (("skin", 2),), ("hold",), in_one_shift=True,
             needs_bay=True)
    )  # fmt: skip
    tasks.append(Task("cure", "Cure", "wait", chance.randrange(12, 37) * HOUR, after=("bond",), needs_bay=True))
    hours = chance.randrange(2, 6) * HOUR
    tasks.append(Task("seal", "Seal", "labour", hours, (("body", 1),), ("cure",), needs_bay=True))
    tasks.append(
        Task("test", "Water test", "labour", 2 * HOUR, (("body", 1),), lags=(("seal", chance.randrange(4, 13) * HOUR),))
    )
    release_at = START + timedelta(days=chance.randrange(0, days // 2 + 1))
    work = sum((task.duration for task in tasks if task.kind == "labour"), timedelta(0))
    slack = timedelta(days=chance.uniform(0.3, 1.4) * ends_at)
    return PlanJob(
        key=f"job{number:03}",
        priority=chance.randrange(1, 6),
        release_at=release_at,
        promised_at=release_at + work / 4 + slack,
        bay_choices=tuple(bays[: chance.randrange(len(bays) // 2, len(bays) + 1)]),
        tasks=tuple(tasks),
        weight=float(chance.randrange(1, 4)),
    )


def _step(chance, key, before, is_drying):
    if is_drying:
        return Task(
            key, "Dry", "wait", chance.randrange(24, 97) * HOUR, after=(before,), needs_bay=True,
            equipment=(("blower", chance.randrange(1, 4)),), is_drying=True,
        )  # fmt: skip
    crew = ((chance.choice(SKILLS), 2 if chance.random() < 0.1 else 1),)
    return Task(
        key, key, "labour", chance.randrange(1, 7) * HOUR, crew, (before,), needs_bay=chance.random() < 0.8,
        in_one_shift=chance.random() < 0.15,
    )  # fmt: skip


def shop(seed, jobs=40, operations=30, workers=14, bays=12, days=40, horizon=500, ends_at=20.0):
    """A whole shop. ends_at: days that promises leave on average beside the work itself."""
    chance = random.Random(seed)
    names = tuple(f"bay{number:02}" for number in range(bays))
    return Problem(
        now=START,
        shifts=shifts(horizon),
        workers=people(chance, workers),
        bays=names,
        jobs=tuple(coach(chance, number, operations, names, days, ends_at) for number in range(jobs)),
        equipment=(("blower", max(3, bays)),),
    )
