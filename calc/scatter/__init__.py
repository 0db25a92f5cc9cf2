"""How sure a dose is: what scatters from hole to hole, carried through the formulas. Measured holes are in `calc.evidence`."""
