"""Marks in the workshop: photographs and folders of a relief in files."""
