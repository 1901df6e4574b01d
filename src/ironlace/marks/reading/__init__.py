"""What was struck in the metal, with its doubts: digits, dots and pits, strings, two readers."""
