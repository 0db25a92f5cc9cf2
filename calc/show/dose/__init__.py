"""Dose for each hole on the screen: fill picture, panel, schedule grid."""
