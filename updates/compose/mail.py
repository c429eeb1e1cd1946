"""A message as a mail: subject, plain text, HTML."""

from dataclasses import dataclass
from urllib.parse import urlsplit

from django.template.loader import render_to_string

from updates.compose.facts import Common
from updates.compose.message import Message
from updates.compose.words import one_line

PICTURE_ID = "picture"


@dataclass(frozen=True)
class Picture:
    """A picture that goes with the words, and the words that stand for it."""

    png: bytes
    words: str


@dataclass(frozen=True)
class RenderedMail:
    subject: str
    text: str
    html: str


def render_mail(message: Message, *, link_url: str, common: Common, picture: Picture | None = None) -> RenderedMail:
    """Give a message the form of a mail; text and HTML say the same.

    Raises ValueError if link_url is not an absolute http or https address without white space.
    """
    parts = urlsplit(link_url)
    if parts.scheme not in {"http", "https"} or not parts.netloc or link_url.split() != [link_url]:
        raise ValueError("link_url must be an absolute http or https address")
    context = {
        "message": message,
        "link_url": link_url,
        "picture": picture,
        "picture_id": PICTURE_ID,
        "shop_name": one_line(common.shop_name),
        "shop_phone": one_line(common.shop_phone),
        "shop_email": one_line(common.shop_email),
        "locale": common.locale.replace("_", "-"),
    }
    return RenderedMail(
        subject=one_line(render_to_string("emails/message.subject.txt", context)),
        text=render_to_string("emails/message.txt", context).strip() + "\n",
        html=render_to_string("emails/message.html", context).strip() + "\n",
    )
