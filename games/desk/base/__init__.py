"""What every page of the desk is made of."""
