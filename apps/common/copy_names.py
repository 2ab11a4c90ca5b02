"""What a copy is called, of whatever it is one."""


def copy_name(name: str, *, most: int, number: int = 1) -> str:
    """Return "X (copy)", from the second on "X (copy 2)", of at most so many characters."""
    words = " (copy)" if number == 1 else f" (copy {number})"
    return name[: most - len(words)] + words
