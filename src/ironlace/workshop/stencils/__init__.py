"""Stencil sheets in the workshop: asked for, planned, kept in derived."""
