"""An order in the making: the form, its try-out and its signature."""
