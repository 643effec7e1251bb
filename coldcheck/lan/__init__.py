"""Local networks: PoE, cables, prefixes, addresses, names.

Numbers in, numbers out; knows no plans and no rules.
"""
