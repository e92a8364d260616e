"""The doors: one blueprint per noun. Each reads what was sent, lets the work do it, and says what came of it."""
