"""Sheets laid one after the other instead of bridges, and how far they must stray."""
