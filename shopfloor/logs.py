"""What must never stand in a log."""

import logging
import re

OWNER_TOKEN = re.compile(r"/o/[^/\s]+")


class WithoutOwnerTokens(logging.Filter):
    """Takes the token out of an owner's link before the line is written."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.msg, record.args = OWNER_TOKEN.sub("/o/...", record.getMessage()), ()
        return True
