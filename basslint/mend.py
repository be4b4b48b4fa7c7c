from basslint.mending import *  # noqa: F403  (goes once nobody imports it)
