"""The program as a user calls it, on a small knowledge and a store of its own."""

from tests.cli.conftest import call as call
