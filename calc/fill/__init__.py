"""How much goes in, where it ends up, and how sure one can be."""
