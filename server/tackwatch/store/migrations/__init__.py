"""Migrations of the schema, oldest first in ``versions``; they travel inside the package."""
