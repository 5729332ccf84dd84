"""The pages of docs/ that are made from the knowledge and published figures."""
