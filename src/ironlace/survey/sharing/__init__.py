"""The same machine reported twice, and a survey published for others."""
