"""Pages as Jinja templates: a folder per blueprint of ``stash.web``, and the macros they share."""
