"""The what-if form: a question in the address, so that a link to it can be kept. Nothing is stored."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.http import QueryDict

from estimates.inputs import Snapshot
from estimates.questions import Pending
from estimates.what_if import ExtraPerson, Overtime, WhatIf, days_away, new_turns
from jobs.fields import HOURS_EXAMPLE, NumberField
from jobs.models import Job, Person, Remedy
from shopfloor.asking import AskingForm
from shopfloor.forms import day_field

ROWS = (1, 2)
OUTSIDE = "outside"
LEAVE = "leave"
LONGEST_OVERTIME_DAYS = 60
FURTHEST_DAYS = 365
NO_SUCH = {"invalid_choice": "Choose one of the list."}


class WhatIfForm(AskingForm):
    """Up to two moves and two turns, overtime of one person, one extra person, and an answer to each open question."""

    def __init__(self, *args: Any, snapshot: Snapshot, remedies: dict[int, Remedy], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.snapshot, self.today = snapshot, snapshot.shop.local_date(snapshot.now)
        self.questions = list(snapshot.questions())
        self.jobs = {str(job.pk): job for job in snapshot.jobs}
        coaches = [("", "Choose a coach"), *((key, f"{job.number} {job.coach}") for key, job in self.jobs.items())]
        bays = [("", "Choose where to"), *((str(bay.pk), bay.name) for bay in snapshot.bays)]
        for row in ROWS:
            self._add(f"move{row}", "Coach", coaches)
            self._add(f"to{row}", "Moves to", [*bays, (OUTSIDE, "outside, between its work in the bay")])
            self._add(f"turn{row}", "Coach", coaches)
            self._add(f"place{row}", "Goes", [("", "Choose a turn"), *_turns()])
        self._add_people()
        for each in self.questions:
            self._add_question(each, remedies)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for row in ROWS:
            self._whole(cleaned, f"move{row}", f"to{row}", "Say which coach moves.", "Say where it moves to.")
            self._whole(cleaned, f"turn{row}", f"place{row}", "Say which coach.", "Say when its turn is.")
        self._check_moves(cleaned)
        if cleaned.get("turn1") and cleaned.get("turn1") == cleaned.get("turn2"):
            self.add_error("turn2", "This coach has a turn above already.")
        self._check_overtime(cleaned)
        if cleaned.get("extra_from") and not cleaned.get("extra_skills"):
            self.add_error("extra_skills", "Say what the extra person can do.")
        self._check_days(cleaned)
        if not self.errors and not any(value for value in cleaned.values()):
            raise forms.ValidationError("Choose at least one thing to change.")
        return cleaned

    def what_if(self) -> WhatIf:
        """The changes; only after is_valid()."""
        given = self.cleaned_data
        moves = [(int(given[f"move{row}"]), given[f"to{row}"]) for row in ROWS if given[f"move{row}"]]
        return WhatIf(
            bays={job_id: int(bay) for job_id, bay in moves if bay != OUTSIDE},
            parked=frozenset(job_id for job_id, bay in moves if bay == OUTSIDE),
            priorities={int(given[f"turn{row}"]): int(given[f"place{row}"]) for row in ROWS if given[f"turn{row}"]},
            overtime=tuple(self._overtime()),
            extra=self._extra(),
            answers={
                each.finding.pk: given[f"answer{each.finding.pk}"]
                for each in self.questions
                if given[f"answer{each.finding.pk}"]
            },
            picks={
                each.finding.pk: None if pick == LEAVE else int(pick)
                for each in self.questions
                if (pick := given[f"pick{each.finding.pk}"])
            },
        )

    def kept_link(self) -> str:
        """The question as an address, without what was left empty."""
        data: QueryDict = self.data  # type: ignore[assignment]
        pairs = [(name, value) for name in self.fields for value in data.getlist(name) if value]
        return "?" + urlencode(pairs)

    def moves(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"move{row}"], self[f"to{row}"]) for row in ROWS]

    def turns(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"turn{row}"], self[f"place{row}"]) for row in ROWS]

    def answers(self) -> list[tuple[Pending, Job, forms.BoundField, forms.BoundField]]:
        pairs = ((each, each.finding.pk) for each in self.questions)
        return [
            (each, self.jobs[str(each.finding.job_id)], self[f"pick{pk}"], self[f"answer{pk}"]) for each, pk in pairs
        ]

    def left_unsafe(self) -> list[Pending]:
        """Findings that are marked unsafe to leave, and are left in this question."""
        return [
            each
            for each in self.questions
            if each.finding.is_unsafe_to_leave and self.cleaned_data.get(f"pick{each.finding.pk}") == LEAVE
        ]

    def keeps_turns(self) -> bool:
        """Whether a turn asked about is the one its coach has; only after is_valid()."""
        asked = self.what_if()
        return len(new_turns(self.snapshot, asked)) < len(asked.priorities)

    def away(self) -> tuple[str, tuple[date, ...]] | None:
        """Who would work overtime on days they are away, and those days; only after is_valid()."""
        found = [(overtime, days) for overtime in self._overtime() if (days := days_away(self.snapshot, overtime))]
        if not found:
            return None
        overtime, days = found[0]
        named = dict(self.fields["person"].choices)  # type: ignore[attr-defined]
        return named[str(overtime.person_id)], days

    def _add(self, name: str, label: str, choices: Any, **fields: Any) -> None:
        self.fields[name] = forms.ChoiceField(
            label=label, choices=choices, required=False, error_messages=NO_SUCH, **fields
        )

    def _add_people(self) -> None:
        people = Person.objects.filter(shop=self.snapshot.shop, is_active=True, skills__isnull=False).distinct()
        named = [(str(person.pk), person.get_full_name() or person.username) for person in people.order_by("pk")]
        self._add("person", "Who", [("", "Choose a person"), *named])
        self.fields["over_from"] = day_field("From", required=False)
        self.fields["over_until"] = day_field("Until", required=False)
        self.fields["over_hours"] = NumberField(
            label="Hours more a day",
            min_value=0.5,
            max_value=8,
            required=False,
            error_messages={"invalid": HOURS_EXAMPLE},
            help_text="After closing time; on a closed day from the usual opening.",
        )
        self.fields["extra_skills"] = forms.MultipleChoiceField(
            label="Who can do",
            choices=[(skill.name, skill.name) for skill in self.snapshot.shop.skills.all()],
            widget=forms.CheckboxSelectMultiple,
            required=False,
            error_messages={"invalid_choice": "The shop has no such skill."},
        )
        self.fields["extra_from"] = day_field("Comes from", required=False, help_text="Empty: today.")

    def _add_question(self, each: Pending, remedies: dict[int, Remedy]) -> None:
        others = [(str(option.remedy_id), remedies[option.remedy_id].name) for option in each.options]
        choices = [("", "As recommended"), (LEAVE, "Left as it is"), *others[1:]]
        self._add(f"pick{each.finding.pk}", "The owner decides", choices)
        self.fields[f"answer{each.finding.pk}"] = day_field("and answers on", required=False)
        asked = f"Job {self.jobs[str(each.finding.job_id)].number}, finding {each.finding.number}"
        self.named[f"pick{each.finding.pk}"] = f"{asked}: the owner decides"
        self.named[f"answer{each.finding.pk}"] = f"{asked}: answers on"

    def _whole(self, cleaned: dict[str, Any], first: str, second: str, no_first: str, no_second: str) -> None:
        if first in self.errors or second in self.errors:
            return
        if cleaned.get(second) and not cleaned.get(first):
            self.add_error(first, no_first)
        if cleaned.get(first) and not cleaned.get(second):
            self.add_error(second, no_second)

    def _check_moves(self, cleaned: dict[str, Any]) -> None:
        bays = {str(bay.pk): bay for bay in self.snapshot.bays}
        for row in ROWS:
            job, bay = self.jobs.get(cleaned.get(f"move{row}") or ""), bays.get(cleaned.get(f"to{row}") or "")
            if job and bay and job.coach.length_mm > bay.longest_coach_mm:
                self.add_error(f"to{row}", f"{job.coach} is too long for {bay}.")
        if cleaned.get("move1") and cleaned.get("move1") == cleaned.get("move2"):
            self.add_error("move2", "This coach moves above already.")

    def _check_overtime(self, cleaned: dict[str, Any]) -> None:
        names = ("person", "over_from", "over_until", "over_hours")
        if any(name in self.errors for name in names) or not any(cleaned.get(name) for name in names):
            return
        missing = ("Say who.", "From which day?", "Until which day?", "How many hours?")
        for name, words in zip(names, missing, strict=True):
            if not cleaned.get(name):
                self.add_error(name, words)
        first_on, last_on = cleaned.get("over_from"), cleaned.get("over_until")
        if first_on and last_on and last_on < first_on:
            self.add_error("over_until", "This lies before the first day.")
        elif first_on and last_on and (last_on - first_on).days >= LONGEST_OVERTIME_DAYS:
            self.add_error("over_until", f"At most {LONGEST_OVERTIME_DAYS} days, please.")

    def _check_days(self, cleaned: dict[str, Any]) -> None:
        days = ["over_from", "extra_from", *(f"answer{each.finding.pk}" for each in self.questions)]
        for name in days:
            day = cleaned.get(name)
            if day and day < self.today:
                self.add_error(name, "That day has passed.")
            elif day and day > self.today + timedelta(days=FURTHEST_DAYS):
                self.add_error(name, "That is more than a year away.")

    def _overtime(self) -> Iterator[Overtime]:
        given = self.cleaned_data
        if given["person"]:
            yield Overtime(int(given["person"]), given["over_from"], given["over_until"], given["over_hours"])

    def _extra(self) -> ExtraPerson | None:
        skills: list[str] = self.cleaned_data["extra_skills"]
        from_on: date = self.cleaned_data["extra_from"] or self.today
        return ExtraPerson(frozenset(skills), from_on) if skills else None


def _turns() -> list[tuple[str, str]]:
    words = {1: "1, before all others", 5: "5, as most do", 9: "9, after all others"}
    return [(str(number), words.get(number, str(number))) for number in range(1, 10)]
