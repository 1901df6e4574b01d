"""Evidence gathered: mirror twins, repeats, other examples, losses, strokes carried over gaps."""
