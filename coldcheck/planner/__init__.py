"""The planner: fills blanks and mends findings. Text goes in and text comes out; every proposal is linted first."""
