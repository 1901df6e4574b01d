"""The phone's door: a second, small application for one phone on the house network."""
