"""The commands of ``brumal``, one a module: each adds its parser and runs."""
