"""Notes that an engineer adds to a package: text as it was typed, and pictures that hold nothing else."""
