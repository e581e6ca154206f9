"""Tables to start from and a scenario to look at: two folders of CSV files, no code.

``STARTER`` is the vocabulary a general user begins with: kinds of part, what to measure on them and how, and which
kinds touch. Every mate says where its bounds come from ("common practice, no source", "from memory", or the published
source); they are meant to be edited.

``DEMO`` is loaded on top of it: the invented sister moped makers Fennaby and Ruddlow, who shared two engines and kept
quiet about it.

::

              generation 1: piston port, pin 10, points       generation 2: reed, pin 12, module with a limit
    engine A  Kittle, Kittle S        Pip, Pip de Luxe         Kittle II, Kittle Cargo   Pip II, Pip II E
    engine B  Mardle, Mardle T        Tansel                   Mardle R                  Tansel R, Tansel RK
              Fennaby                 Ruddlow                  Fennaby                   Ruddlow

One collector owns 18 machines and some 220 lots of loose parts in 35 bins, wants six more models and has four builds
open that compete for the same parts. In it are pistons that look alike and are not, a bush two people quarrel about, a
module that plugs in and must not be run, a low cover under a tall fan, a kit that takes a moped over 50 cm³, and
some things in the wrong bin.

To add to it, write rows by hand: one file a table, RFC 4180, UTF-8, the columns in the order of
``stash.kernel.tables``; rows stand where a reader would look for them, models of a family together. A new code for a
place, machine or lot has five characters of 0-9 A-Z without I L O U and the check character of ISO/IEC 7064 MOD 37-2.
Then run ``pytest tests/seed_demo``: it checks references, codes, displacements, that no two stock parts contradict
each other, and that every case above is still there.

This package holds no rules and imports nothing of stash.
"""

from pathlib import Path

STARTER: Path = Path(__file__).resolve().parent / "starter"
"""Folder of kinds, measures and mates; load it first."""

DEMO: Path = Path(__file__).resolve().parent / "demo"
"""Folder of the scenario's tables; load it after the starter."""
