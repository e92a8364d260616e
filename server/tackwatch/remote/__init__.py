"""A device away from the server: its own copy of a refit in one file, used offline, kept up by docs/sync.md."""
