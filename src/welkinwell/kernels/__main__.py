"""Where the printed kernel of a kind lies, and its text: python -m welkinwell.kernels passive_box."""
