"""What the planner knows rows by."""


def job_key(pk: int) -> str:
    return f"job{pk}"


def worker_key(pk: int) -> str:
    return f"person{pk}"


def bay_key(pk: int) -> str:
    return f"bay{pk}"


def bay_pk(key: str) -> int:
    return int(key.removeprefix("bay"))
