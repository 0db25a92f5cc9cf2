"""What people write, read strictly into frozen records: job file, schedule, adhesive record, measurements.

Nothing is worked out here.
"""
