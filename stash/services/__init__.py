"""What a person can do: one use case per function, which owns its transaction.

Screens and commands call these and nothing below, so they can't disagree. Each loads one frozen snapshot, decides in
the pure rooms, and writes once.
"""
