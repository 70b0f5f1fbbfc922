"""A program that records at full speed and tells each number once it is on the disk."""

from __future__ import annotations

import os
import sys

from solderrisk.journal.store import Entry, Journal


def main(path: str, most: int, together: int) -> None:
    told = os.open(f"{path}-told", os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    with Journal(path) as journal:
        for _ in range(most):
            entries = [
                Entry("b" * 16, "note", {"text": "x" * 90, "key": None}, "ada", "ada")
            ] * together
            numbers = " ".join(str(event.number) for event in journal.append(entries))
            os.write(told, f"{numbers}\n".encode())


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
