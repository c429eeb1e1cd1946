"""Random numbers that belong to a task and a sample, whatever else is in the shop: the same with a finding and without.

A number is a hash of (seed, name, sample), so that adding a task shifts nobody else's.
"""

from collections.abc import Sequence
from hashlib import blake2b

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_STEP = np.uint64(0x9E3779B97F4A7C15)
_FIRST = np.uint64(0xBF58476D1CE4E5B9)
_SECOND = np.uint64(0x94D049BB133111EB)


def uniforms(seed: int, name: str, samples: int) -> Floats:
    """One number between 0 and 1, ends left out, for each sample."""
    even: Floats = uniforms_of(seed, [name], samples)[0]
    return even


def uniforms_of(seed: int, names: Sequence[str], samples: int) -> Floats:
    """The same for many names at once: [name, sample].

    Source: SplitMix64 (Steele, Lea and Flood 2014) run as a counter; the name's hash is its start. Constants from
    memory; tests/unit/estimates/test_plan_forecast.py checks that the numbers are even and unrelated.
    """
    digests = b"".join(blake2b(f"{seed}/{name}".encode(), digest_size=8).digest() for name in names)
    begin = np.frombuffer(digests, dtype=np.uint64)[:, None]
    with np.errstate(over="ignore"):
        mixed = begin + _STEP * np.arange(1, samples + 1, dtype=np.uint64)
        spare = mixed >> np.uint64(30)
        for shift, factor in ((27, _FIRST), (31, _SECOND)):
            mixed ^= spare
            mixed *= factor
            np.right_shift(mixed, np.uint64(shift), out=spare)
        mixed ^= spare
    mixed >>= np.uint64(11)
    even: Floats = mixed.astype(np.float64)
    even += 0.5
    even /= 2.0**53
    return even
