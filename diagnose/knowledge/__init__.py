"""The knowledge: YAML files to checked, frozen records."""
