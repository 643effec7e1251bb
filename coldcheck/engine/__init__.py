"""The engine: loading rules and workings, injecting, running, findings, waivers. Knows no trade."""
