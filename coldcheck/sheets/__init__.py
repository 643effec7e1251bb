"""Sheets: what the bench needs on paper, made from workings. No number is computed here."""
