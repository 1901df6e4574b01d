"""Each step of the club's tables."""
