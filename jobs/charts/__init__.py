"""Moisture in pictures: frozen dataclasses in, the bytes of an SVG or a PNG out. No Django, no models."""
