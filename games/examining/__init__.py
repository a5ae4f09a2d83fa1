"""Tests of muscles, led step by step: what to do now, what was found, and what it can settle. Pure."""
