"""Bench sums and standard parts: what can be worked out from sizes, and what a standard already says.

Pure: standard library only, no clock, files, randomness or environment. Units are in the names; a size that makes no
sense is refused with how to mend it. A sum is arithmetic, not permission.

Read ``sums`` (what a sum is), ``engine``, ``rings`` and ``seats`` (the sums), ``comparing`` (a machine as built against
stock), ``law`` and ``cautions`` (what to mind), ``units`` (conversions), ``quantities`` (sizes as typed, in either
unit), ``worksheet`` (all sums as one sheet), ``iso286`` (limits and fits), ``bearings``, ``circlips``, ``o_rings`` and
``threads`` (standard parts), ``standard`` (what a designation says of them).
"""
