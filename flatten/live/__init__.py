"""A seat that answers while its numbers are turned."""
