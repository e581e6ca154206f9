"""Migrations, run by ``stash.db.upgrade``; ``python -m stash.db.migrations 'What changes'`` drafts the next one."""
