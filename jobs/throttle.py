"""Counting tries in the cache, so that nobody can guess for long."""

import hashlib
from datetime import timedelta

from django.core.cache import cache

WINDOW = timedelta(minutes=10)


def is_too_many(scope: str, who: str, *, limit: int, window: timedelta = WINDOW) -> bool:
    """Count one try of `who` at `scope`; True, and not counted, when `limit` tries lie within `window`.

    Each try takes one of `limit` slots that frees itself after the window. Taking a slot is one atomic
    insert, so that many tries at once cannot slip through together as they could past a counter.
    """
    slots = _slots(scope, who, limit)
    taken = cache.get_many(slots)
    seconds = window.total_seconds()
    return not any(cache.add(slot, 1, timeout=seconds) for slot in slots if slot not in taken)


def is_used_up(scope: str, who: str, *, limit: int) -> bool:
    """Whether the next try would be too many; counts nothing."""
    return len(cache.get_many(_slots(scope, who, limit))) >= limit


def forget(scope: str, who: str, *, limit: int) -> None:
    """Free all slots: the person has shown who they are."""
    cache.delete_many(_slots(scope, who, limit))


def _slots(scope: str, who: str, limit: int) -> list[str]:
    # Hashed: a name somebody typed is no cache key, and the cache need not hold names and addresses.
    name = hashlib.sha256(who.encode()).hexdigest()[:32]
    return [f"{scope}:{name}:{number}" for number in range(limit)]
