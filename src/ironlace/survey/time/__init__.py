"""Months of making and how numbers ran through them."""
