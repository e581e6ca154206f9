"""Gaps and builds: what is missing, what the shelf can fill, and the best plan over all builds at once.

Pure: facts in, answers with reasons out; no clock, files, randomness or environment. ``numpy`` and ``highspy`` serve
the solver alone and are imported only when a plan is solved.

What is asked: ``gaps.gaps``, ``gaps.fills``, ``gaps.one_short`` and ``solve.plan``.

Read in this order: ``facts`` (what is given), ``usable`` (what may be used), ``spots`` and ``judging`` (verdicts, asked
once each), ``shelf`` (loose parts that are all the same), ``sized`` (found by size, a whole shelf at once), ``meeting``
(mates inside one machine), ``filling`` (one machine at once), ``holes``, ``candidates`` and ``gaps`` (everything that
is missing, with what fills it).

Then the plan: ``tasks`` (what to complete, what the owner decided), ``wares`` (what can be had), ``prospects`` (what is
worth judging), ``options`` (what may go where), ``matching`` (what goes together), ``picking`` (by hand), ``model`` (as
numbers), ``stages`` and ``highs`` (solved), ``assigning`` (as a pick list), ``explain``, ``arrivals`` and ``spare``
(why, and what else), ``answer``.
"""
