"""What is timed runs with Python's own collection of garbage, as the product does."""

import gc

import pytest

PYTHONS_OWN = (700, 10, 10)


@pytest.fixture(scope="package", autouse=True)
def _garbage_as_in_the_product():
    before = gc.get_threshold()
    gc.set_threshold(*PYTHONS_OWN)
    yield
    gc.set_threshold(*before)
