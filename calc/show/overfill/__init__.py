"""Overfill and waste on the screen: pictures, panel, views."""
