"""Direct current: wires, contacts, converters, networks. Numbers in, numbers out; knows no plans or rules."""
