"""Results that are kept, so that what did not change is not computed again."""
