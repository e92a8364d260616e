"""Merging what several phones did without a signal: pure, no web, no database, no wall clock."""
