"""Limits on the plan, one kind a module; :mod:`brumal.planner.limits.every` walks them all.

A kind says which rows it puts on the pairs of a season, how the keeper stated it, when it is full,
the season without it and the season with a little more of it. The solver's model, the greedy start,
the irreducible infeasible set, the queue of females left out and the shadow prices read nothing
else.
"""
