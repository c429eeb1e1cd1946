"""Hand one message to the mail server."""

import smtplib
import uuid
from dataclasses import dataclass
from email.mime.image import MIMEImage
from email.utils import formataddr

from django.conf import settings
from django.core.mail import EmailMultiAlternatives

from updates.channels import PermanentFailure, TemporaryFailure
from updates.compose.mail import PICTURE_ID, Picture


@dataclass(frozen=True)
class Mail:
    """One mail to one recipient: with several, a mail server's refusal of one would go unnoticed."""

    message_id: uuid.UUID
    to_address: str
    from_name: str
    reply_to: str
    subject: str
    text: str
    html: str
    picture: Picture | None = None


def send(mail: Mail) -> None:
    """Hand the mail over. Raises TemporaryFailure or PermanentFailure.

    A repeat carries the same Message-ID. Permanent is what the server answers with a 5xx code.
    """
    domain = settings.DEFAULT_FROM_EMAIL.rpartition("@")[2].rstrip(">")
    message = EmailMultiAlternatives(
        subject=mail.subject,
        body=mail.text,
        from_email=formataddr((mail.from_name, settings.DEFAULT_FROM_EMAIL)),
        to=[mail.to_address],
        reply_to=[mail.reply_to],
        headers={"Message-ID": f"<{mail.message_id}@{domain}>", "Auto-Submitted": "auto-generated"},
    )
    message.attach_alternative(mail.html, "text/html")
    if mail.picture:
        # The picture belongs to the HTML and is no paper of its own; the stubs do not know the attribute.
        message.mixed_subtype = "related"  # type: ignore[attr-defined]
        message.attach(_inline(mail.picture))
    try:
        message.send()
    except smtplib.SMTPRecipientsRefused as error:
        code, answer = next(iter(error.recipients.values()))
        raise _failure(code, answer) from error
    except smtplib.SMTPResponseException as error:
        raise _failure(error.smtp_code, error.smtp_error) from error
    except (smtplib.SMTPException, OSError) as error:
        raise TemporaryFailure(f"The mail server could not be reached: {error}") from error


def _inline(picture: Picture) -> MIMEImage:
    part = MIMEImage(picture.png, "png")
    part.add_header("Content-ID", f"<{PICTURE_ID}>")
    part.add_header("Content-Disposition", "inline", filename="drying.png")
    return part


def _failure(code: int, answer: bytes | str) -> Exception:
    words = answer.decode("utf-8", "replace") if isinstance(answer, bytes) else answer
    text = f"The mail server said {code} {words}"
    return PermanentFailure(text) if code >= 500 else TemporaryFailure(text)
