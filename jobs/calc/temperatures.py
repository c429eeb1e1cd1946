"""Temperatures as people read them: Fahrenheit or Celsius. Source: F = 1.8 C + 32, the scales' definition."""


def print_temperature(temp_c: float, *, units: str) -> str:
    """A temperature [C] to the whole degree in the shop's units. Raises ValueError unless units is "us" or "metric"."""
    if units not in {"us", "metric"}:
        raise ValueError(f"units must be 'us' or 'metric', got {units!r}")
    return f"{temp_c * 1.8 + 32:.0f} °F" if units == "us" else f"{temp_c:.0f} °C"
