"""What leaves the workshop, and findings computed again."""
