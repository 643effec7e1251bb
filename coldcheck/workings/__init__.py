"""Workings: a plan turned into problems of `coldcheck.dc` and `coldcheck.lan`, and the answers. No verdicts here."""
