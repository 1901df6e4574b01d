"""Ornament in the workshop: tracing, drawings kept, changes by hand, lenses."""
