"""What services say when they refuse. The text may be shown to the person who asked."""


class JobError(Exception):
    """A refusal in words for the person who asked; nothing was changed.

    about: the argument of the service that it is about, where it is one, so that a page can say it beside its field.
    """

    def __init__(self, words: str = "", *, about: str = "") -> None:
        super().__init__(words)
        self.about = about


class Stale(JobError):
    """What was on the screen is no longer what is stored."""


class AlreadyDecided(JobError):
    """The answer is already there."""


class NotNow(JobError):
    """The order of work does not allow this yet."""
