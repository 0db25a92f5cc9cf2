"""What people see: figures, panels, the calculation package and the command line."""
