"""Every sum of the trade under one stable name: what it takes, what it gives, and how it is worked out.

Rules
-----
* A module here that is not one of the four below carries a family of sums as `SUMS`, a tuple of
  `Sum`. The registry finds the modules by itself, in the order of their names.
* `sum`: the type of a sum, and what a field says of itself. `reading`: plain JSON to a dataclass,
  strictly. `schema`: JSON Schema and plain JSON of a dataclass. `registry`: all sums by name.
* Names are in snake_case and never change. Units stand last in the names of fields.
"""
