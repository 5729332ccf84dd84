"""What a case's observations and repairs say to the network of its machine."""
