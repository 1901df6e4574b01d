"""The threading plan: where each thread goes, how that is known, drawn, told and compared."""
