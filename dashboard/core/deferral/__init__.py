"""Deferral advice: what may be given up, what each choice costs, and by when to decide.

Start reading at `advise`. At plan pace the scheduling model (`model`, `solve`) finds the optimum. With a wanted confidence
`search` finds it on the draws. `whatif` gives the figures of every change, and `validate` checks every proposal without
knowing a solver.
"""
