"""Writing updates to owners and handing them over."""

from collections.abc import Iterable
from dataclasses import asdict
from datetime import datetime

from django.db import transaction

from jobs.charts.drying_data import chart_words
from jobs.drying_pictures import chart_of, draw_chart
from jobs.journal import Run, record
from jobs.models import JournalEntry, Owner, Station
from jobs.services.drying import limits_of
from updates import kinds
from updates.channels import PermanentFailure
from updates.channels import email as email_channel
from updates.compose.mail import Picture, render_mail
from updates.compose.message import Message
from updates.facts import common_facts, message_from_json
from updates.links import make_link
from updates.models import Update


def write_updates(
    entry: JournalEntry,
    family: str,
    messages: Iterable[tuple[Owner, Message]],
    *,
    station: Station | None = None,
    now: datetime,
) -> list[Update]:
    """Store a composed message for each owner, once an entry. Runs inside the caller's transaction.

    After commit: the worker hands each over.
    """
    written = []
    for owner, message in messages:
        update, is_new = Update.objects.get_or_create(
            entry=entry,
            family=family,
            owner=owner,
            defaults={"job": entry.job, "message": asdict(message), "station": station, "written_at": now},
        )
        if is_new:
            data = {"update": update.pk, "family": family, "owner": owner.pk, "subject": message.subject}
            record(entry.job, kinds.UPDATE_WRITTEN, now=now, data=data)
        written.append(update)
    return written


def hand_over(update: Update, run: Run) -> None:
    """Send an update by mail, then note it: at least once, a repeat with the same Message-ID.

    Raises TemporaryFailure when the mail server could not take it now. A permanent refusal is
    kept on the update and in the journal, for the manager to reach the owner another way.
    """
    if update.sent_at:
        with run.finish():
            return
    try:
        email_channel.send(_mail(update, run.now))
    except PermanentFailure as failure:
        with run.finish():
            Update.objects.filter(pk=update.pk).update(failed_at=run.now, failure=str(failure)[:300])
            record(
                update.job, kinds.UPDATE_REFUSED, now=run.now, data={"update": update.pk, "failure": str(failure)[:300]}
            )
        return
    with run.finish():
        Update.objects.filter(pk=update.pk).update(sent_at=run.now)
        record(update.job, kinds.UPDATE_SENT, now=run.now, data={"update": update.pk, "owner": update.owner_id})


def _mail(update: Update, now: datetime) -> email_channel.Mail:
    with transaction.atomic():
        link_url = make_link(job=update.job, owner=update.owner, now=now)
    picture = _picture(update.station, now) if update.station else None
    rendered = render_mail(
        message_from_json(update.message),
        link_url=link_url,
        common=common_facts(update.job, update.owner),
        picture=picture,
    )
    shop = update.job.shop
    return email_channel.Mail(
        message_id=update.message_id,
        to_address=update.owner.email,
        from_name=shop.name,
        reply_to=shop.email,
        subject=rendered.subject,
        text=rendered.text,
        html=rendered.html,
        picture=picture,
    )


def _picture(station: Station, now: datetime) -> Picture:
    """The station's drying chart as it stands when the mail goes out."""
    full = Station.objects.with_readings().select_related("forecast", "job__shop").get(pk=station.pk)
    words = f"The slowest spot: {chart_words(chart_of(full, limits_of(full.job.shop), now=now))}"
    return Picture(png=draw_chart(full, "png", now=now), words=words)
