"""Deferral advice: what may be given up, what each choice costs, and by when to decide.

`advise` is the door. The optimiser (`model`, `solve`) proposes, the projection and its draws (`whatif`) give the figures,
and `validate` checks every proposal without knowing the optimiser.
"""
