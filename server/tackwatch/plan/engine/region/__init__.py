"""A part of a plan made anew by constraint programming, while the rest stays where it is.

`masks` says where each step may begin by itself, `gaps` puts what hangs on ends into constraints, `model`
makes the whole of it and asks CP-SAT, `choose` picks the part.
"""
