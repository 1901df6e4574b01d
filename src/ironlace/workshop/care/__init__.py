"""Care of a machine of the workshop: its oiling plan on paper, in a calendar, and carried on."""
