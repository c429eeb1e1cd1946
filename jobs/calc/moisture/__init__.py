"""Moisture: air, wood, meters, drying and what the evidence says. Pure; numpy and scipy for the numbers."""
