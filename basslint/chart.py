from basslint.charting import *  # noqa: F403  (goes once nobody imports it)
from basslint.charting import Chart  # noqa: F401
