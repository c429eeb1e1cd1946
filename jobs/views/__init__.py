"""The technician's screens."""
