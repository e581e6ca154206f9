"""Stash: which loose part fits which machine, where it lies, and what it could finish."""

__version__ = "0.1.0"
