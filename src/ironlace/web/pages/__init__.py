"""The pages, one file for each part of the bench."""
