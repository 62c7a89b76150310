"""Counts checks that hold and those that do not."""

passed = failed = 0


def check(what, holds, shown=""):
    global passed, failed
    if holds:
        passed += 1
    else:
        failed += 1
        print(f"FAILED: {what} {shown}")


def told():
    """Prints the counts; gives the exit code that follows from them."""
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0
