"""Where source, chain, session and recorder meet."""
