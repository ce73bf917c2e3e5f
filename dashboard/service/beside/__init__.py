"""Long work in a process of its own: advice, answers and reports, so that they never share the interpreter with the cycle."""
