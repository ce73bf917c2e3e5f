"""The HTTP interface of a desk and its live push: one module for each group of routes."""
