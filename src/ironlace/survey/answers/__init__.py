"""One file for each question that a person asks of a survey."""
