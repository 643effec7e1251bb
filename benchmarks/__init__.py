"""What Coldcheck costs, as ratios: ``python -m benchmarks [name...] [--quick]``. See README.md here."""
