"""A sentence as a code with its parameters; see `musclewood.assets.saying`."""

from musclewood.assets.saying import Saying, say

__all__ = ["Saying", "say"]
