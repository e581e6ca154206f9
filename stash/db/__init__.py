"""Storage: typed rows, the unit of work, snapshots for the pure rooms, migrations.

Rows come in and go out here and nowhere else; what they mean is decided in the pure rooms.
``store`` opens a database, ``unit`` is one transaction of writing, ``snapshot`` turns rows into facts.
"""
