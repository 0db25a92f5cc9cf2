"""From the bar's force to its embedment, one module per code and edition."""
