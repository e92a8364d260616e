"""How well alarms ring: lateness, deliveries, deaths, handing on. ``make bench-alarms`` prints each beside its bar."""
