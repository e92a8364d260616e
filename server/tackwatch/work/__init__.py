"""The acts of persons: one file each, with who may do them; the only users of the store."""
