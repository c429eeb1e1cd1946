"""Work that waits for an owner's answer."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from estimates.plan_keys import answer_key
from jobs.models import Finding, Shop, Skill
from jobs.services.work import NewOperation


@dataclass(frozen=True)
class Option:
    """One remedy that an open question offers, and the work it takes."""

    remedy_id: int
    operations: tuple[NewOperation, ...]

    @property
    def part(self) -> str:
        """What the planner knows its work by."""
        return f"remedy{self.remedy_id}"


@dataclass(frozen=True)
class Pending:
    """Work that waits for an owner's yes: an open question, or an offer being worked out. The first is recommended."""

    finding: Finding
    options: tuple[Option, ...]
    answer_at: datetime

    @property
    def part(self) -> str:
        """What the planner knows the wait for the answer by."""
        return answer_key(self.finding.pk)

    def taken(self, remedy_id: int | None) -> set[str]:
        """The parts that are planned with this remedy; None leaves it as it is, and nobody waits for an answer."""
        return {self.part, *(each.part for each in self.options if each.remedy_id == remedy_id)} if remedy_id else set()

    @property
    def parts(self) -> set[str]:
        return {self.part, *(each.part for each in self.options)}


def operations_as_json(operations: Sequence[NewOperation]) -> list[dict[str, Any]]:
    """Operations in the form an offer keeps; the skill by its primary key."""
    return [vars(each) | {"skill": each.skill.pk if each.skill else None} for each in operations]


def operations_from_json(rows: Sequence[dict[str, Any]], skills: Mapping[int, Skill]) -> tuple[NewOperation, ...]:
    """The inverse of operations_as_json. skills: the shop's, by primary key."""
    return tuple(NewOperation(**row | {"skill": skills.get(row["skill"])}) for row in rows)


def skills_of(shop: Shop) -> dict[int, Skill]:
    return {skill.pk: skill for skill in shop.skills.all()}
