"""Units, formulas, sheets and published tables. Nothing here knows about holes."""
