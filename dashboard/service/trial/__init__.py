"""Tries events in a cycle before they count: in a process of its own, within a budget of time and memory.

A thread that hangs cannot be stopped, and a cycle keeps the interpreter busy while it computes. Therefore events are tried in
another process. When an event breaks the cycle or overruns its budget, only that process ends.
"""
