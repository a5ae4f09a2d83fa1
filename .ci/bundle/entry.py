"""What the program without Python starts."""

import sys

from musclewood.games.__main__ import main

sys.exit(main())
