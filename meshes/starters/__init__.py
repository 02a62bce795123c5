"""Starter sheets by kind of seat."""
