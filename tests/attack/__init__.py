"""The program attacked as a hostile file, a dying disk and a careless user would. The suite repeats each attack at
a small scale; `python -m tests.attack NAME ROUNDS` at any (docs/reliability.md)."""
