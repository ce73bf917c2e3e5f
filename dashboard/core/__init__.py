"""The pure core: plan, events, reconcile, projection, state.

Nothing in here reads a clock, a file or a socket, or imports a framework. `now` is handed in.
"""
