"""The core: pure decisions over plain values. Standard library only; no clock, files, network or randomness."""
