"""Leather of folded corners: how far it reaches, its fold lines, its room beside a rail, and what is said of it."""
