"""Reading a plan: TOML text, quantities, spans, tables, parts, places, edits. Knows no physics and no rules."""
