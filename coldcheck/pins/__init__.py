"""Placeholder until the geometry helper writes it."""
