"""The surface: slopes and reflectance from the light, and the height that belongs to them."""
