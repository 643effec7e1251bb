"""Local networks: PoE, cables, frames, VLANs, spanning tree, prefixes, addresses, names, topology, flow.

Numbers in, numbers out; knows no plans and no rules.
"""
