"""Floor 3: modules, connectors, parts and fab classes that people can buy or order."""
