"""Movements and what they add up to: balances, whereabouts, and whether a batch can be undone.

Pure: the ledger's entries in, answers with reasons out. A movement is never edited or removed.
"""
