"""The command line: words, options and exit codes only; the work is done in ``nesting``."""
