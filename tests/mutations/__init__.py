"""Small faults put into a copy of the code, to see which of them the tests of the same folder notice."""
