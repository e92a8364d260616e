"""The dispatch, compiled: see `dispatch` for its rules.

Rules
-----
* Plain arrays, handed on one by one; all that is called is compiled into its caller, so that handing on
  costs nothing.
* A step is a row of `row`, whose columns are named in `columns`; a pair of columns points into `flat`.
* Calendar 0 is always open, p + 1 is person p's. `hours[c, s]` are open slots left of the span, where the
  next span begins, and open slots before; `slot_of[c, k]` is the open slot number k.
* What people have to do: `spans[p]`, sorted and apart, with the open slots that are free after each; before all
  of them one that ends at 0. What stands in the way: `ways`, first a row for each place, then two for each zone,
  dust and wet; `way_to` is the latest end of each.
"""
