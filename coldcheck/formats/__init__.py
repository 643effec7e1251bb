"""Findings for terminals and machines. How they arose is not known here."""
