"""Boards that are covered flat: leather wrapped round their edges, its reliefs, openings and holes, foam, and words."""
