"""The commands, a file each: each adds itself to the command line."""

import os

# Threads for matrices as small as ours cost more than they bring; a setting of the user's own stands.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# What others have installed beside us takes no part in reading a scenario, and looking for it takes time.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
