"""The survey in the workshop: a record's reports to the survey room and back."""
