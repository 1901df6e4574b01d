"""Outlines as curves: traced, uncrossed, joined, compared, graded."""
