"""Rules that a site adds: complete, with cases, the pattern to copy. They run where ``--rules`` names this folder."""
