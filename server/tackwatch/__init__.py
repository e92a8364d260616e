"""Tackwatch: runs a haul-out refit from the crew's phones."""
