"""Schedules that another program wrote: how they are read, and what is proposed to somebody who has one."""
