"""Floor 8: small parts placed, nets routed, ground poured, legend printed."""
