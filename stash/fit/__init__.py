"""The heart: facts, claims, mates, verdicts, companions, checks. Facts in, answers with reasons out.

Pure: standard library only, no clock, files, randomness or environment; "does not fit" is an answer.

Read in this order: ``facts`` (what is given), ``catalogue`` (the facts with their indexes), ``scopes`` (which claim is
narrower), ``claims`` (who says what), ``mates`` (what the sizes say), ``verdicts`` (what follows).
"""
