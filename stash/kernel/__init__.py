"""Small pure values everything else speaks in: codes, part numbers, years, exact numbers, table cells.

Standard library only; no clock, no files, no randomness, no environment.
"""
