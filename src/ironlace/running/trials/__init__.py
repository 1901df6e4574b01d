"""Trials and the tuning log: what was changed, what came of it, what to try next."""
