"""The demo's mailbox: the mails that would have gone to owners, read back from their folder."""

import email
import email.policy
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from email.message import EmailMessage
from email.utils import parsedate_to_datetime
from pathlib import Path

# Django's file backend ends each message of a file with this line.
BETWEEN = b"\n" + b"-" * 79 + b"\n"
NEWEST = 100


@dataclass(frozen=True)
class DemoMail:
    sent_at: datetime
    to: str
    sender: str
    subject: str
    text: str
    link: str


def read_mailbox(folder: Path, *, site_url: str, newest: int = NEWEST) -> list[DemoMail]:
    """The newest mails of the folder, newest first; a file that is no mail is left out."""
    if not folder.is_dir():
        return []
    paths = sorted(folder.glob("*.log"), key=lambda path: path.stat().st_mtime_ns, reverse=True)[:newest]
    mails = [mail for path in paths for mail in _mails(path, site_url)]
    return sorted(mails, key=lambda mail: mail.sent_at, reverse=True)[:newest]


def _mails(path: Path, site_url: str) -> Iterator[DemoMail]:
    # Later mails of a file first: the sort by time is to the second and keeps this order.
    for raw in reversed(path.read_bytes().split(BETWEEN)):
        message = email.message_from_bytes(raw.strip(), policy=email.policy.default)
        if isinstance(message, EmailMessage) and message["To"] and message["Date"]:
            yield _mail(message, site_url)


def _mail(message: EmailMessage, site_url: str) -> DemoMail:
    body = message.get_body(preferencelist=("plain",))
    text = body.get_content() if body else ""
    link = re.search(rf"^\s*({re.escape(site_url)}/\S+)\s*$", text, re.MULTILINE)
    return DemoMail(
        sent_at=parsedate_to_datetime(str(message["Date"])),
        to=str(message["To"]),
        sender=str(message["From"]),
        subject=str(message["Subject"]),
        text=text.strip(),
        link=link[1] if link else "",
    )
