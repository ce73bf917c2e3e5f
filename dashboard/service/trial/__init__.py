"""Trying events in a cycle before they count: in a process of its own, within a budget of time and memory.

A thread that hangs cannot be stopped, and a cycle holds the interpreter while it computes. So events are tried in a
process: when one of them breaks the cycle or overruns its budget, only that process ends, and the room goes on.
"""
