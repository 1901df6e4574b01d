"""The package for the next owner: a bag after RFC 8493 that outlives the program."""
