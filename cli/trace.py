from __future__ import annotations


def run() -> None:
    raise NotImplementedError
