"""Lists that a site uses, as PDF, CSV and a page for the phone.

They go to people who stand at a wall with gloves on: large type, strong contrast, nothing said by colour alone. The
templates are fixed; what a user wrote reaches them as strings in a JSON file, or escaped. No number is worked out here.
"""
