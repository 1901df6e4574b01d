"""Ways of numbering: how they are written, which are known, what a mark says read literally."""
