"""Where gilt stands in a flat photograph, a scan or a rubbing, and in which colours."""
