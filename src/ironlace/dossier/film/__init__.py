"""Notes for a film of the machine, from its record: nothing is said in it without its grade."""
