"""Flat sheets as people keep them: any encoding, separator and header, words for numbers.

``files`` gets a grid of texts out of a file, ``columns`` guesses what each column is, ``words`` reads single cells.
Nothing here knows the database; what cannot be understood is said, never guessed away.
"""
