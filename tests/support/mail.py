"""A real SMTP server for tests."""

import contextlib
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage

from aiosmtpd.controller import Controller


@dataclass
class MailServer:
    """A real SMTP server that keeps what it is given, or answers as it is told."""

    port: int
    messages: list[EmailMessage] = field(default_factory=list)
    answer: str | None = None  # to the message, such as "451 later" or "554 refused"
    answer_to_recipient: str | None = None  # to the address, such as "550 no such mailbox"

    async def handle_RCPT(  # noqa: N802 - aiosmtpd's name
        self, server: object, session: object, envelope: object, address: str, options: list[str]
    ) -> str:
        if self.answer_to_recipient:
            return self.answer_to_recipient
        envelope.rcpt_tos.append(address)
        return "250 known"

    async def handle_DATA(self, server: object, session: object, envelope: object) -> str:  # noqa: N802 - aiosmtpd's name
        if self.answer:
            return self.answer
        self.messages.append(message_from_bytes(envelope.content, policy=policy.default))
        return "250 kept"

    def wait_for(self, count: int, *, seconds: float = 120.0) -> list[EmailMessage]:
        """The messages once there are so many; fails when they do not come."""
        deadline = time.monotonic() + seconds
        while len(self.messages) < count:
            assert time.monotonic() < deadline, f"{len(self.messages)} of {count} mails came within {seconds} s"
            time.sleep(0.02)
        return self.messages


@contextlib.contextmanager
def serving(server: MailServer) -> Iterator[None]:
    controller = Controller(server, hostname="127.0.0.1", port=server.port, ready_timeout=60)
    controller.start()
    try:
        yield
    finally:
        controller.stop()
