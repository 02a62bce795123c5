"""Variants of a sheet beside each other, what changed since the last run, and which measurement matters."""
