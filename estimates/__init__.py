"""Catalogue, take-off, price, plan, revisions and papers."""
