"""Offers, revisions and the plan: what the estimate side can do."""
