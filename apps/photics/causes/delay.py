"""How long after the light an effect may show: stated before any note is looked at."""

import numpy as np

# Weeks between the light and what is seen [weeks]. Chosen, because corals shift their pigments over
# weeks, and after six a change of light is what they are used to.
DELAY_WEEKS = (0, 1, 2, 3, 4, 5, 6)
# How far each delay is expected [1]. Chosen, because with less on three weeks an effect so late is
# found less than half as often as a prompt one, and with more a prompt one is lost too often
# (simulated worlds of tests/benchmarks/bench_association.py). Weeks beside these two share their
# light, so little is lost by expecting less of them.
KERNEL = np.array((0.865, 0.005, 0.01, 0.1, 0.01, 0.005, 0.005))
