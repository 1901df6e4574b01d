"""The needle thread through one turn: what the seam asks for against what the take-up gives."""
