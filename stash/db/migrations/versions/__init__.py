"""One module per migration, numbered."""
