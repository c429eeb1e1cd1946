"""Tests. A package, so that `tests.factories` is ours and not one that a library left in site-packages."""
