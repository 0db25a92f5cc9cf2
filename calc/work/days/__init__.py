"""The crew's days, simulated: what it is given, what it does, and the books of it."""
