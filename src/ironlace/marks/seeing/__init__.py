"""Making a plate's surface visible: lit anew from any side, its curvature, its depth."""
