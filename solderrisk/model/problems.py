"""Problems that a user can mend, told in one line.

UserProblem
 ├─ UnknownName    a kit names what does not exist
 └─ CyclicOrder    (plan) the kit's rules contradict each other
"""

from __future__ import annotations


class UserProblem(Exception):  # noqa: N818 - it is told, not thrown at the user
    """The message is one line with the remedy."""
