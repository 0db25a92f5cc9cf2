"""Packs and mixers counted for a whole job, without its days."""
