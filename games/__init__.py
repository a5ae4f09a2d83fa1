"""What people see and do: launcher, rep engine, screens, workshops, commands."""
