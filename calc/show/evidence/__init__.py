"""Measured holes on the screen: pictures, panel, views."""
