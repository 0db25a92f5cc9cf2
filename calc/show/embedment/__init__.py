"""Embedment and strength on the screen: joint drawing, pictures, panel, views."""
