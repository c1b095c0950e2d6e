"""The router, in small replaceable parts."""
