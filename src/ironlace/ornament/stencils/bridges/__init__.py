"""Which bridges keep the islands of a stencil in place, and what a person wishes of them."""
