"""How hard the thread is held: the screw's curve, the path, and what readings cannot tell apart."""
