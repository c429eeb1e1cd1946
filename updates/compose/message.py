"""A composed message, before it is given the form of a channel."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Message:
    """Words to one owner. Every text is one line of plain text; rows are labels and values.

    `action_words` stand on the link to the owner's page, None for a message without one.
    """

    subject: str
    greeting: str
    paragraphs: tuple[str, ...]
    rows: tuple[tuple[str, str], ...]
    action_words: str | None
    closing: tuple[str, ...]
