"""Channels by which a person is told, one file each."""
