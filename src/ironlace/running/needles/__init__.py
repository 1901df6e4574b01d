"""Which needle serves, and which thread goes through it."""
