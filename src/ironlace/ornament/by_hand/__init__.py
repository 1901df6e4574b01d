"""Changes to a drawing by hand, as orders that can be carried out again."""
