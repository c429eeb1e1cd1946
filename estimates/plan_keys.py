"""What the planner knows rows by."""


def job_key(pk: int) -> str:
    return f"job{pk}"


def worker_key(pk: int) -> str:
    return f"person{pk}"


def worker_pk(key: str) -> int:
    return int(key.removeprefix("person"))


def operation_key(pk: int) -> str:
    return f"operation{pk}"


def check_key(pk: int) -> str:
    """A hold point to be signed off."""
    return f"hold{pk}"


def bay_key(pk: int) -> str:
    return f"bay{pk}"


def bay_pk(key: str) -> int:
    return int(key.removeprefix("bay"))


def answer_key(finding_pk: int) -> str:
    """The wait for an owner's answer."""
    return f"answer{finding_pk}"


def phase_key(phase: int) -> str:
    """The marker that closes a phase of a job."""
    return f"phase{int(phase)}"
