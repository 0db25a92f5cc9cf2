"""A page for a phone: the hole that one fills with a finger, the exercises, the practice sheet, one's own hole."""
