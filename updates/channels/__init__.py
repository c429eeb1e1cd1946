"""Ways to reach an owner. Each has send() and says whether a failure is worth another try."""


class TemporaryFailure(Exception):
    """The message did not go now; trying again may help."""


class PermanentFailure(Exception):
    """The message will never go this way; a person must reach the owner."""
