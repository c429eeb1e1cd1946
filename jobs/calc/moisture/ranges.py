"""One way to refuse a number."""


def check_range(name: str, value: float, allowed: tuple[float, float]) -> None:
    """Raises ValueError naming argument, value and allowed range (ends included); a NaN is refused too."""
    if not allowed[0] <= value <= allowed[1]:
        raise ValueError(f"{name} must be {allowed[0]:g} to {allowed[1]:g}, got {value!r}")
