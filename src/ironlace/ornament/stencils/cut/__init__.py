"""How sheets are cut: paths, kerf, cutters' files, films, the test card."""
