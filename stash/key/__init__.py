"""Identification: which design is the thing in my hand, and what must I measure to be sure?

Pure: standard library only, no clock, files, randomness or environment; every answer carries its reasons.

Bayes over the designs of a kind plus "none of these". Read in this order: ``options`` (every constant and where it
comes from), ``densities`` (what a reading of a known size looks like), ``questions`` (what can be asked of a kind),
``answers`` (what was answered), ``belief`` (what follows), ``information`` (what is worth asking), ``stopping`` (when
it is enough), ``wording`` (said in words), ``tiebreak`` (what would still decide), ``identify`` (all of it), ``looks``
(what kind is this?), ``standard`` (what a designation names), ``taking`` (how a measure is taken), ``lookalikes`` (what
only one measure tells apart).

Measures are taken as independent given the design. Where one worn surface drives several measures they are not: use one
measure for each worn surface.
"""
