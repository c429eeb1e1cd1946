"""Writing updates to owners and handing them over."""

from collections.abc import Iterable
from dataclasses import asdict
from datetime import datetime

from django.db import transaction

from jobs.journal import Run, record
from jobs.models import JournalEntry, Owner
from updates import kinds
from updates.channels import PermanentFailure
from updates.channels import email as email_channel
from updates.compose.mail import render_mail
from updates.compose.message import Message
from updates.facts import common_facts, message_from_json
from updates.links import make_link
from updates.models import Update


def write_updates(
    entry: JournalEntry, family: str, messages: Iterable[tuple[Owner, Message]], *, now: datetime
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
            defaults={"job": entry.job, "message": asdict(message), "written_at": now},
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
    rendered = render_mail(
        message_from_json(update.message), link_url=link_url, common=common_facts(update.job, update.owner)
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
    )
