"""The stitch-out: a scanned or photographed test seam, every stitch of it measured."""
