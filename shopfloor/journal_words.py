"""A journal entry in words for the manager: what happened is in the kind, this adds the particulars."""

from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from jobs.calc.moisture.verdict import VERDICT_WORDS, Verdict
from jobs.journal import KINDS
from jobs.models import Decision, JournalEntry, StationForecast

Data = dict[str, Any]


def kind_words(entry: JournalEntry) -> str:
    kind = KINDS.get(entry.kind)
    return kind.words if kind else entry.kind


def particulars(entry: JournalEntry) -> str:
    """What the entry keeps that a person would ask for; empty when the kind says it all."""
    tell = _TELL.get(entry.kind)
    return tell(entry.data) if tell else ""


def _moved(data: Data) -> str:
    return f"into {data['bay']}" if data["bay"] else "out of its bay"


def _promised(data: Data) -> str:
    before = f", before {_day(data['before'])}" if data["before"] else ""
    return f"{_day(data['ready_on'])}{before}. {data['reason']}"


def _date_moved(data: Data) -> str:
    before = f"{_day(data['from_on'])} to " if data["from_on"] else ""
    return f"{before}{_day(data['to_on'])}: {data['words']}"


def _decided(data: Data) -> str:
    channel = Decision.Channel(data["channel"]).label
    return f"{'yes' if data['is_approved'] else 'no'}, {data['typed_name']}, {channel}"


def _settled(data: Data) -> str:
    return f"revision {data['revision']}, {_usd(data['total_usd'])}"


def _offered(data: Data) -> str:
    return f"{_usd(data['total_usd'])}, {data['days']} {'day' if abs(data['days']) == 1 else 'days'}"


def _paid(data: Data) -> str:
    words = f": {data['words']}" if data["words"] else ""
    return f"{_usd(data['amount_usd'])}, {data['payer']}, {_day(data['paid_on'])}{words}"


def _adjusted(data: Data) -> str:
    before, after = (", ".join(data[name]) for name in ("before", "after"))
    return f"finding {data['number']}: {before}; now {after}. {data['reason']}"


def _mended(data: Data) -> str:
    was, now = (_span(data[name]) for name in ("before", "after"))
    return f"{data['who']}, {data['words']}: {was}, now {now}. {data['reason']}"


def _span(times: Data) -> str:
    start, end = (datetime.fromisoformat(each) if each else None for each in (times["started_at"], times["ended_at"]))
    return " to ".join(f"{each:%b %d %H:%M}" if each else "open" for each in (start, end))


def _usd(text: str) -> str:
    return f"${Decimal(text):,.2f}"


def _day(text: str) -> str:
    on = date.fromisoformat(text)
    return f"{on:%b} {on.day}, {on.year}"


def _round(data: Data) -> str:
    values = (f"{number}: {f'{pct:g} %' if pct is not None else range_}" for number, range_, pct in data["readings"])
    return f"stations {', '.join(values)}"


def _drying(data: Data) -> str:
    return ", ".join(
        f"{each['station']}: {StationForecast.Outcome(each['outcome']).label}" for each in data["stations"]
    )


def _verdict(data: Data) -> str:
    return f"finding {data['number']}: {VERDICT_WORDS[Verdict(data['verdict'])]}"


def _overruled(data: Data) -> str:
    computed = VERDICT_WORDS[Verdict(data["computed"])]
    chosen = VERDICT_WORDS[Verdict(data["chosen"])] if data["chosen"] else "as computed"
    return f"finding {data['number']}: {chosen}, computed {computed}. {data['reason']}"


_TELL: dict[str, Callable[[Data], str]] = {
    "job_booked": lambda data: f"arrives {_day(data['arrives_on'])}",
    "coach_moved": _moved,
    "turn_changed": lambda data: f"{data['priority']}, before {data['before']}",
    "date_promised": _promised,
    "finding_posted": lambda data: f"finding {data['number']}: {data['seen']}",
    "photos_added": lambda data: f"{len(data['photos_sha256'])} new",
    "station_marked": lambda data: f"station {data['station']}",
    "station_retired": lambda data: f"station {data['station']}",
    "station_restored": lambda data: f"station {data['station']}",
    "round_taken": _round,
    "reading_struck": lambda data: f"station {data['station']}: {data['reason']}",
    "drying_worked_out": _drying,
    "evidence_noted": lambda data: f"finding {data['number']}",
    "verdict_reached": _verdict,
    "verdict_overruled": _overruled,
    "equipment_placed": lambda data: str(data["words"]),
    "equipment_taken_away": lambda data: str(data["words"]),
    "framing_noted": lambda data: str(data["words"]),
    "remedies_adjusted": _adjusted,
    "request_withdrawn": lambda data: str(data["reason"]),
    "owner_decided": _decided,
    "work_agreed": lambda data: ", ".join(data["operations"]),
    "operation_started": lambda data: str(data["words"]),
    "operation_finished": lambda data: str(data["words"]),
    "clocked_on": lambda data: f"{data['who']}, {data['words']}",
    "clocked_off": lambda data: f"{data['who']}, {data['words']}, {data['hours']:g} h",
    "span_mended": _mended,
    "material_used": lambda data: f"{data['material']}, {data['words']}",
    "hold_point_passed": lambda data: f"{data['words']} {data['note']}".strip(),
    "hold_point_failed": lambda data: f"{data['words']}: {data['note']}",
    "offer_made": _offered,
    "payment_taken": _paid,
    "payment_taken_back": _paid,
    "money_given_back": _paid,
    "scope_settled": _settled,
    "scope_planned": _settled,
    "date_moved": _date_moved,
    "update_written": lambda data: str(data.get("subject", "")),
    "update_refused": lambda data: str(data["failure"]),
    "links_withdrawn": lambda data: f"{data['links']} closed",
}
