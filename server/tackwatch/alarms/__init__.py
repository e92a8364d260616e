"""The bell: wakes when an alarm falls due, claims it, tells its person, and writes down how that went."""
